package desk

import (
	"bytes"
	"database/sql"
	"errors"
	"image"
	"image/png"
	"path/filepath"
	"strings"
	"testing"

	_ "modernc.org/sqlite"

	"wreath/internal/ledger"
	"wreath/internal/people"
)

func TestVerifyMissesAPicture(t *testing.T) {
	path := filepath.Join(t.TempDir(), "shop.wreath")
	d := deskAt(t, path)
	opening := Opening{Shop: Shop{Name: "Invented Shop", TimeZone: "UTC"}, Person: people.Person{ID: "ada", Name: "Ada Invented"}}
	if err := d.OpenShop(t.Context(), opening, ""); err != nil {
		t.Fatal(err)
	}
	by := local(t, d)
	item, err := d.EnterItem(t.Context(), by, Item{Description: "plain band"})
	if err != nil {
		t.Fatal(err)
	}
	var drawn bytes.Buffer
	if err := png.Encode(&drawn, image.NewGray(image.Rect(0, 0, 8, 8))); err != nil {
		t.Fatal(err)
	}
	item, err = d.AddPhoto(t.Context(), by, item.ID, drawn.Bytes(), "front")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := d.Verify(t.Context(), nil, nil, nil, nil); err != nil {
		t.Fatalf("a whole store: %v", err)
	}
	raw, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer raw.Close()
	if _, err := raw.Exec(`delete from attachment where hash = ?`, item.Photos[0].Hash); err != nil {
		t.Fatal(err)
	}
	_, err = d.Verify(t.Context(), nil, nil, nil, nil)
	if !errors.Is(err, ledger.ErrBroken) || !strings.Contains(err.Error(), item.ID) {
		t.Errorf("a picture is missing and Verify says %v", err)
	}
}
