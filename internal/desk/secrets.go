package desk

import (
	"encoding/json"
	"time"

	"wreath/internal/ledger"
	"wreath/internal/store"
)

// What stands beside the log.
const (
	secretPassword = "password"      // hash, by person
	secretPIN      = "pin"           // people.PIN, by person@device
	secretSession  = "session"       // people.Session, by the hash of its token
	secretCode     = "code"          // people.OneTimeCode, by person; "set-up" for the first
	secretRecovery = "recovery"      // people.RecoveryCodes, by person
	secretDevice   = "device"        // people.Device, by the hash of its secret
	secretToken    = "token"         // people.ServiceToken, by the hash of its secret
	secretPasskey  = "passkey"       // people.PasskeyUse, by the id of the passkey
	secretTries    = "tries"         // people.Tries, one
	secretClock    = "clock"         // people.Clock, one
	secretKey      = "customer-key"  // vault key, by customer
	secretSealed   = "customer-data" // vault.Sealed, by customer@version
	secretMoving   = "moving"        // marks a log that is not closed yet where it comes from, one
	secretPrinting = "printing"      // time until which a job counts as being printed, by its number
	secretViews    = "views"         // edition of the views, one
	theOne         = "one"           // the name of what there is only one of
)

func secret[T any](tx *store.Tx, kind, id string) (out T, err error) {
	data, err := tx.Secret(kind, id)
	if err != nil {
		return out, err
	}
	return read[T](data)
}

func putSecret(tx *store.Tx, kind, id string, value any) error {
	data, err := json.Marshal(value)
	if err != nil {
		return err
	}
	return tx.PutSecret(kind, id, data)
}

func entry(at time.Time, person string, d draft, body []byte) ledger.Entry {
	return ledger.Entry{Head: ledger.Head{Time: at, Kind: d.kind, Subject: d.subject, Person: person, Station: d.station}, Body: body}
}
