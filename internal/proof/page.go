package proof

import (
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// PageOptions say what a page to check proofs with is made for.
type PageOptions struct {
	ShopName string   // shown at the top; "" shows none
	Keys     []string // public keys of the shop as it publishes them, at least one
	List     string   // text of a status list, checked with those keys; "" for none
	Language string   // en, de or es; "" follows the browser
}

// PageLanguages are the languages of the page.
var PageLanguages = []string{"en", "de", "es"}

//go:embed page
var pageFiles embed.FS

func pageFile(name string) string {
	text, err := pageFiles.ReadFile("page/" + name)
	if err != nil {
		panic(err) // the program was built wrong
	}
	return string(text)
}

var (
	pageStyle  = pageFile("page.css")
	pageScript = pageFile("words.js") + pageFile("check.js") + pageFile("ed25519.js") + pageFile("page.js")
)

// PagePolicy is the Content-Security-Policy of the page: nothing but what is in it runs, and nothing is
// fetched. The page says so itself; a server sends it too.
var PagePolicy = fmt.Sprintf("default-src 'none'; script-src 'sha256-%s'; style-src 'sha256-%s'; img-src blob:; media-src blob: mediastream:; base-uri 'none'; form-action 'none'", sum(pageScript), sum(pageStyle))

func sum(text string) string {
	s := sha256.Sum256([]byte(text))
	return base64.StdEncoding.EncodeToString(s[:])
}

// Page makes the page with which anybody checks proofs in a browser, from a file and without a
// network: one HTML document that needs nothing else. The same options give the same bytes.
func Page(o PageOptions) ([]byte, error) {
	var keys []Key
	for _, text := range o.Keys {
		k, err := ParseKey(text)
		if err != nil {
			return nil, err
		}
		keys = append(keys, k)
	}
	if len(keys) == 0 {
		return nil, errors.New("a page to check proofs with needs a public key")
	}
	if o.Language != "" && !slices.Contains(PageLanguages, o.Language) {
		return nil, fmt.Errorf("the page does not speak %q; it speaks %s", o.Language, strings.Join(PageLanguages, ", "))
	}
	if o.List != "" {
		if _, err := OpenList(o.List, keys...); err != nil {
			return nil, err
		}
	}
	given := struct {
		Shop     string   `json:"shop_name,omitempty"`
		Keys     []string `json:"keys"`
		List     string   `json:"list,omitempty"`
		Language string   `json:"language,omitempty"`
	}{o.ShopName, []string{}, strings.TrimSpace(o.List), o.Language}
	for _, k := range keys {
		given.Keys = append(given.Keys, k.String())
	}
	data, err := json.Marshal(given) // writes < and > so that they end no script
	if err != nil {
		return nil, err
	}
	return []byte(strings.NewReplacer("{{policy}}", PagePolicy, "{{style}}", pageStyle, "{{given}}", string(data), "{{script}}", pageScript).Replace(pageFile("page.html"))), nil
}
