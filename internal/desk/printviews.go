package desk

import (
	"fmt"
	"slices"

	"wreath/internal/ledger"
	"wreath/internal/spool"
	"wreath/internal/store"
)

// showQueueRestored holds back what waited when a backup was made: nobody knows what was printed since then.
func showQueueRestored(tx *store.Tx, e ledger.Entry) error {
	jobs, err := queued(tx)
	if err != nil {
		return err
	}
	for _, job := range jobs {
		if job.State != spool.Waiting && job.State != spool.Printing {
			continue
		}
		if job.State == spool.Waiting {
			if err := changePrints(tx, e, job, func(p *prints) { p.Came++ }); err != nil {
				return err
			}
		}
		job.State, job.Ended, job.Said = spool.BrokenOff, e.Time, "The store was restored from a backup; nobody knows whether it was printed since the backup was made."
		if err := tx.Put("print-job", job.Number, e.Seq, job); err != nil {
			return err
		}
	}
	return nil
}

func showPrinterRemoved(tx *store.Tx, e ledger.Entry) error { return tx.Remove("printer", e.Subject) }

// queueKey keeps the queue in the order of the numbers, however many there are.
func queueKey(number string) (string, error) {
	var n int64
	if _, err := fmt.Sscanf(number, "P-%d", &n); err != nil {
		return "", fmt.Errorf("the number %q of a job can't be read", number)
	}
	return fmt.Sprintf("%012d", n), nil
}

func showPrintAsked(tx *store.Tx, e ledger.Entry) error {
	job, err := read[printJob](e.Body)
	if err != nil {
		return err
	}
	key, err := queueKey(job.Number)
	if err != nil {
		return err
	}
	var counter int64
	if _, err := fmt.Sscanf(job.Number, "P-%d", &counter); err != nil {
		return err
	}
	if err := tx.Put("counter", "print", e.Seq, counter); err != nil {
		return err
	}
	if err := tx.Put("print-job", job.Number, e.Seq, job); err != nil {
		return err
	}
	if err := tx.Put("print-queue", key, e.Seq, job.Number); err != nil {
		return err
	}
	err = changePrints(tx, e, job, func(p *prints) { p.Jobs = append(p.Jobs, job.Number) })
	if err != nil || job.Of == "" {
		return err
	}
	// What is printed again needs nobody's eye any more.
	old, _, err := get[printJob](tx, "print-job", job.Of)
	if err != nil {
		return err
	}
	old.Again = job.Number
	if old.State == spool.Printing {
		old.State = spool.BrokenOff
	}
	if err := tx.Put("print-job", old.Number, e.Seq, old); err != nil {
		return err
	}
	return leaveQueue(tx, old.Number)
}

func leaveQueue(tx *store.Tx, number string) error {
	key, err := queueKey(number)
	if err != nil {
		return err
	}
	return tx.Remove("print-queue", key)
}

func changePrints(tx *store.Tx, e ledger.Entry, job printJob, change func(*prints)) error {
	key := documentKey(job.Document, job.Subject)
	var of prints
	if _, err := tx.Get("prints", key, &of); ignoreMissing(err) != nil {
		return err
	}
	change(&of)
	return tx.Put("prints", key, e.Seq, of)
}

// onPrint changes a job by the body of an entry, and counts it among the prints of its document while it may
// have come out.
func onPrint[T any](change func(job *printJob, body T, e ledger.Entry)) func(*store.Tx, ledger.Entry) error {
	return func(tx *store.Tx, e ledger.Entry) error {
		body, err := read[T](e.Body)
		if err != nil {
			return err
		}
		job, _, err := get[printJob](tx, "print-job", e.Subject)
		if err != nil {
			return err
		}
		before := job.MayHaveComeOut()
		change(&job, body, e)
		if after := job.MayHaveComeOut(); after != before {
			by := map[bool]int{true: 1, false: -1}[after]
			if err := changePrints(tx, e, job, func(p *prints) { p.Came += by }); err != nil {
				return err
			}
		}
		if err := tx.Put("print-job", job.Number, e.Seq, job); err != nil {
			return err
		}
		if slices.Contains([]spool.State{spool.Printed, spool.Dropped}, job.State) || e.Kind == "print-dropped" {
			return leaveQueue(tx, job.Number)
		}
		return nil
	}
}

var (
	showPrintBegun = onPrint(func(job *printJob, b printBegun, e ledger.Entry) {
		job.State, job.Attempts, job.Begun, job.Until = spool.Printing, job.Attempts+1, e.Time, b.Until
		job.Copy, job.Bytes, job.SHA256, job.Said = b.Copy, b.Bytes, b.SHA256, ""
	})
	showPrintEnded = onPrint(func(job *printJob, b printEnded, e ledger.Entry) {
		job.State, job.Ended, job.Sent, job.Said = spool.Printed, e.Time, b.Sent, b.Said
	})
	showPrintFailed = onPrint(func(job *printJob, b printFailed, e ledger.Entry) {
		job.State, job.Ended, job.Sent, job.Said = spool.Failed, e.Time, b.Sent, b.Said
		if b.Waits {
			job.State = spool.Waiting
		}
	})
	showPrintBrokenOff = onPrint(func(job *printJob, _ struct{}, e ledger.Entry) {
		job.State, job.Ended, job.Said = spool.BrokenOff, e.Time, "The program ended while it was printing; nobody knows what came out."
	})
	showPrintDropped = onPrint(func(job *printJob, b printDropped, e ledger.Entry) {
		if job.State == spool.Waiting {
			job.State, job.Ended = spool.Dropped, e.Time
			job.Said = b.Reason
		}
	})
)
