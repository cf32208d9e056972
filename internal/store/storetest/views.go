package storetest

import (
	"bytes"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"testing"

	"wreath/internal/store"
)

func things(t *testing.T, k Kind) {
	sh := begin(t, k.New(t).Open(t), "demo")
	type doc struct {
		Text string  `json:"text"`
		Mass float64 `json:"mass_g"`
	}
	sh.write(t, func(tx *store.Tx) error {
		for i := range 30 {
			if err := tx.Put("tray", fmt.Sprintf("t-%02d", i), int64(i), doc{"old", 1}); err != nil {
				return err
			}
		}
		return errors.Join(
			tx.Put("tray", "t-03", 40, doc{"Größe \x00 <new>", 0.1}),
			tx.Put("tray", "Ä", 41, doc{"after", 2}),
			tx.Put("item", "t-03", 42, doc{"another kind", 2}),
			tx.Remove("tray", "t-05"), tx.Remove("tray", "t-99"))
	})
	sh.read(t, func(tx *store.Tx) error {
		var d doc
		if seq, err := tx.Get("tray", "t-03", &d); err != nil || seq != 40 || d != (doc{"Größe \x00 <new>", 0.1}) {
			t.Errorf("t-03: %+v of entry %d, %v", d, seq, err)
		}
		_, err := tx.Get("tray", "t-05", &d)
		wantError(t, err, store.ErrNotFound, "")
		var names []string
		after := ""
		for {
			page, err := tx.List("tray", after, 7)
			if err != nil {
				return err
			}
			if len(page) == 0 {
				break
			}
			for _, thing := range page {
				names, after = append(names, thing.ID), thing.ID
			}
		}
		if len(names) != 30 || !slices.IsSorted(names) || names[29] != "Ä" || slices.Contains(names, "t-05") {
			t.Errorf("listed %q", names)
		}
		return nil
	})
	wantError(t, sh.store.Write(ctx, "demo", func(tx *store.Tx) error { return tx.Put("tray", "x", 1, func() {}) }), nil, "keep tray x")
	sh.write(t, func(tx *store.Tx) error { return tx.Clear() })
	sh.read(t, func(tx *store.Tx) error {
		for _, kind := range []string{"tray", "item"} {
			if left, err := tx.List(kind, "", 10); err != nil || len(left) != 0 {
				t.Errorf("after Clear: %v, %v", left, err)
			}
		}
		return nil
	})
}

func secrets(t *testing.T, k Kind) {
	sh := begin(t, k.New(t).Open(t), "demo")
	values := map[string][]byte{"a": {0, 1, 255}, "b": {}, "c": bytes.Repeat([]byte{7}, 1<<20)}
	sh.write(t, func(tx *store.Tx) error {
		for id, value := range values {
			if err := errors.Join(tx.PutSecret("key", id, []byte("old")), tx.PutSecret("key", id, value)); err != nil {
				return err
			}
		}
		return tx.PutSecret("session", "a", []byte("another kind"))
	})
	sh.read(t, func(tx *store.Tx) error {
		for id, want := range values {
			if got, err := tx.Secret("key", id); err != nil || !bytes.Equal(got, want) {
				t.Errorf("secret %s: %.20x, %v", id, got, err)
			}
		}
		if names, err := tx.Secrets("key"); err != nil || !reflect.DeepEqual(names, []string{"a", "b", "c"}) {
			t.Errorf("secrets %v, %v", names, err)
		}
		return nil
	})
	sh.write(t, func(tx *store.Tx) error { return tx.DropSecret("key", "a") })
	sh.read(t, func(tx *store.Tx) error {
		_, err := tx.Secret("key", "a")
		wantError(t, err, store.ErrNotFound, "")
		if got, err := tx.Secret("session", "a"); err != nil || string(got) != "another kind" {
			t.Errorf("the secret of another kind: %q, %v", got, err)
		}
		return nil
	})
}

func attachments(t *testing.T, k Kind) {
	home := k.New(t)
	sh := begin(t, home.Open(t), "demo")
	hashes := map[string][]byte{}
	for _, data := range [][]byte{{}, []byte("picture"), bytes.Repeat([]byte{1, 2, 3}, 1<<20)} {
		sh.write(t, func(tx *store.Tx) error {
			hash, err := tx.Attach(data)
			if err != nil {
				return err
			}
			hashes[hash] = data
			again, err := tx.Attach(data)
			if again != hash {
				t.Errorf("the same bytes are %s and %s", hash, again)
			}
			return err
		})
	}
	sh.read(t, func(tx *store.Tx) error {
		for hash, want := range hashes {
			if got, err := tx.Attachment(hash); err != nil || !bytes.Equal(got, want) {
				t.Errorf("attachment %s: %d bytes, %v", hash, len(got), err)
			}
		}
		_, err := tx.Attachment("0000")
		wantError(t, err, store.ErrNotFound, "")
		return nil
	})
	if r := sh.verify(t); r.Attachments != 3 {
		t.Errorf("%d attachments, want 3", r.Attachments)
	}
	raw := home.Raw(t)
	exec(t, raw, `update attachment set data = $1 where length(data) = 7`, []byte("Picture"))
	sh.read(t, func(tx *store.Tx) error {
		for hash, data := range hashes {
			if string(data) == "picture" {
				_, err := tx.Attachment(hash)
				wantError(t, err, nil, hash+" was changed")
			}
		}
		return nil
	})
}
