package web

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/webauthn"
	"github.com/chromedp/chromedp"

	"wreath/internal/demo"
	"wreath/internal/desk"
)

// doors are what people do before the bench: the first run, coming in, handing over, and what each sets for
// themselves.
var doors = []struct {
	name string
	do   func(t *testing.T, c *chrome, checker string)
}{
	{"my own station, decision by decision", walkOwnStation},
	{"look around", walkLookAround},
	{"sign in by password", walkSignIn},
	{"one-time code and new password", walkNewPassword},
	{"hand over by PIN", walkHandOver},
	{"photo of an item", walkPhoto},
	{"people", walkPeople},
	{"passkey", walkPasskey},
}

func TestDoorInBrowser(t *testing.T) {
	c := startChrome(t)
	checker := axe(t)
	for _, walk := range doors {
		t.Run(walk.name, func(t *testing.T) { walk.do(t, c, checker) })
	}
}

// inspect looks at the page as it stands, with what was filled in: with the accessibility checker in every
// theme, at its targets, and whether it fits screens down to 320 px.
func (b *tab) inspect(checker, name string) {
	b.t.Helper()
	b.do(chromedp.Evaluate[chromedp.Void](checker + "; void 0"))
	for _, theme := range themes {
		b.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`document.documentElement.dataset.theme = %q`, theme)))
		for _, violation := range eval[[]string](b, `axe.run(document, {resultTypes: ["violations"]}).then((r) => r.violations.flatMap((v) => v.nodes.map((n) => v.id + ": " + n.html.slice(0, 160) + " " + (n.any[0]?.message ?? ""))))`) {
			b.t.Errorf("%s, %s: %s", name, theme, violation)
		}
		b.picture(name+"-1280-"+theme, true)
	}
	b.do(chromedp.Evaluate[chromedp.Void](`document.documentElement.dataset.theme = "light"`))
	b.targets(name)
	for _, size := range [][2]int64{{390, 844}, {320, 640}} {
		b.size(size[0], size[1])
		b.fits(name, size[0])
		b.picture(fmt.Sprintf("%s-%d", name, size[0]), true)
	}
	b.targets(name + " at 320 px")
	b.do(chromedp.Evaluate[chromedp.Void](`document.documentElement.dir = "rtl"`))
	b.fits(name+" from right to left", 320)
	b.do(chromedp.Evaluate[chromedp.Void](`document.documentElement.dir = "ltr"`))
	b.size(1280, 800)
	b.fits(name, 1280)
}

// mostDecisions is how many answers and touches may stand between the first page and the first density.
const mostDecisions = 12

// walkOwnStation counts every answer that is given and every button that is pressed, though most answers
// are offered.
func walkOwnStation(t *testing.T, c *chrome, checker string) {
	w := emptyWorld(t)
	b := c.open(t, w.home())
	b.visit("/")
	b.at("/first")
	b.inspect(checker, "first")
	b.fill(`[name=interval]`, "three")
	b.click(`button[value=own]`)
	b.reads(".wrong", "can't be read")
	b.inspect(checker, "first-wrong")

	decisions := 0
	fill := func(field, text string) { b.fill(field, text); decisions++ }
	press := func(button string) { b.click(button); decisions++ }
	fill(`[name=interval]`, "0.1 mg")
	press(`[name=liquid][value=water]`)
	press(`[name=arrangement][value=hanging]`)
	press(`button[value=own]`)
	b.until(`location.pathname === "/" && document.readyState === "complete"`)
	b.reads("h1", "Bench")
	press(`button[data-key=N]`)
	b.at("/sheet/")
	b.ready()
	for _, r := range [][2]string{weighed[0], weighed[1], weighed[4]} {
		fill(row(r[0])+` [name=text]`, r[1])
		press(row(r[0]) + ` .take button`)
		b.taken(r[0], r[1])
	}
	b.until(`/^\d+[.,]\d+/.test(document.querySelector(".density .value").innerText)`)
	t.Logf("%d decisions to the first density", decisions)
	if decisions > mostDecisions {
		t.Errorf("%d decisions to the first density, want at most %d", decisions, mostDecisions)
	}
}

func walkLookAround(t *testing.T, c *chrome, checker string) {
	w := emptyWorld(t)
	w.halt()
	w.options.OpenDemo = func(ctx context.Context) (*desk.Desk, error) {
		o := w.seat()
		if err := demo.Fill(ctx, o, time.Now().UTC()); err != nil {
			return nil, err
		}
		return desk.New(o)
	}
	w.serve(w.address)
	b := c.open(t, w.home())
	b.visit("/")
	b.at("/first")
	b.click(`button[value=demo]`)
	b.until(`document.querySelector(".practice")`)
	b.inspect(checker, "demo-landing")
	b.visit("/book")
	b.until(`document.querySelectorAll("main tbody tr").length > 5`)
	b.reads(".practice", "invented")
	b.inspect(checker, "demo-book")
}

// tab opens a tab at the pages of a shop.
func (s *site) tab(t *testing.T, c *chrome) *tab {
	t.Helper()
	return c.open(t, s.url)
}

// signIn signs in by password, as at the page.
func (b *tab) signIn(id, password string) {
	b.t.Helper()
	b.tryToSignIn(id, password)
	b.until(`location.pathname !== "/sign-in" && document.readyState === "complete"`)
}

func (b *tab) tryToSignIn(id, password string) {
	b.t.Helper()
	b.visit("/sign-in")
	b.fill(`[name=id]`, id)
	b.fill(`[name=password]`, password)
	b.click(`form[action="/sign-in"] button.main`)
}

func walkSignIn(t *testing.T, c *chrome, checker string) {
	s := byItsName(t)
	b := s.tab(t, c)
	b.visit("/book")
	b.at("/sign-in")
	b.inspect(checker, "sign-in")
	b.tryToSignIn("measure", "five paper boats on a lake")
	b.reads(".wrong", "don't belong together")
	if left := eval[string](b, `document.querySelector("[name=id]").value`); left != "measure" {
		t.Errorf("after a wrong password the name is %q", left)
	}
	b.inspect(checker, "sign-in-wrong")
	b.visit("/book")
	b.at("/sign-in")
	b.fill(`[name=id]`, "measure")
	// As a program types that keeps passwords: as fast as a scanner, and with Enter at once.
	b.fill(`[name=password]`, password+"\r")
	b.at("/book")
	b.reads(".where", "Measure Invented")
	b.visit("/settings")
	b.inspect(checker, "settings-measure")
	b.click(`form[action="/sign-out"] button`)
	b.at("/sign-in")
	b.visit("/book")
	b.at("/sign-in")
	// By number, the pages say why there is no passkey.
	number := c.open(t, s.http.URL)
	number.visit("/sign-in")
	number.reads("main", "A passkey belongs to a name")
	number.inspect(checker, "sign-in-number")
}

func walkNewPassword(t *testing.T, c *chrome, checker string) {
	s := byItsName(t)
	boss := s.tab(t, c)
	boss.signIn("boss", password)
	boss.visit("/settings")
	boss.click(`form[action="/people/measure/code"] button`)
	boss.reads(".wrong", "One-time code")
	code := eval[string](boss, `document.querySelector(".wrong code").innerText`)
	boss.inspect(checker, "settings-code")

	b := s.tab(t, c)
	b.visit("/sign-in")
	b.click(`a[href="/new-password"]`)
	b.at("/new-password")
	b.inspect(checker, "new-password")
	const anew = "nine paper boats on a quiet lake"
	give := func(code string) {
		b.fill(`[name=id]`, "measure")
		b.fill(`[name=code]`, code)
		b.fill(`[name=new]`, anew)
		b.click("button.main")
	}
	give("AAAAA-AAAAA-AAAAA-AAAAA-AAAAA")
	b.until(`document.querySelector(".wrong")`)
	b.inspect(checker, "new-password-wrong")
	give(code)
	b.at("/sign-in")
	b.signIn("measure", anew)

	// Ten codes for paper.
	b.visit("/settings")
	b.fill(`form[action="/recovery-codes"] [name=password]`, anew)
	b.click(`form[action="/recovery-codes"] button`)
	b.until(`document.querySelectorAll(".wrong code").length === 10`)
	b.inspect(checker, "settings-recovery")
}

func walkHandOver(t *testing.T, c *chrome, checker string) {
	s := byItsName(t)
	b := s.tab(t, c)
	b.signIn("boss", password)
	b.visit("/device")
	b.inspect(checker, "device")
	b.fill(`[name=name]`, "front counter")
	b.click(`form[action="/device"] button`)
	b.at("/sign-in")
	for id, pin := range map[string]string{"sign": "830274", "measure": "514907"} {
		b.signIn(id, password)
		b.visit("/settings")
		b.fill(`form[action="/pin"] [name=password]`, password)
		b.fill(`form[action="/pin"] [name=pin]`, pin)
		b.click(`form[action="/pin"] button`)
		b.until(`document.readyState === "complete" && document.querySelector("form[action='/pin'] [name=pin]")?.value === ""`)
	}
	b.signIn("measure", password)
	b.inspect(checker, "counter-bench")
	b.visit("/sign-in")
	b.inspect(checker, "sign-in-counter")
	b.visit("/")
	b.ready()
	b.key("b")
	b.at("/unlock")
	b.reads("main", "Measure Invented")
	b.inspect(checker, "unlock")
	b.fill(`form[action="/unlock"] [name=pin]`, "111222")
	b.click(`form[action="/unlock"] button.main`)
	b.reads(".wrong", "wrong PIN")
	b.inspect(checker, "unlock-wrong")
	b.fill(`form[action="/unlock"] [name=pin]`, "514907")
	b.click(`form[action="/unlock"] button.main`)
	b.until(`location.pathname === "/"`)
	b.reads(".where", "Measure Invented")
	b.ready()
	b.key("b")
	b.at("/unlock")
	b.fill(`form[action="/sign-in"] [name=id]`, "sign")
	b.fill(`form[action="/sign-in"] [name=pin]`, "830274")
	b.click(`form[action="/sign-in"] button:not(.passkey)`)
	b.reads(".where", "Sign Invented")
	b.visit("/device")
	b.reads("main", "none of the roles")
	b.inspect(checker, "not-allowed")
}

func walkPhoto(t *testing.T, c *chrome, checker string) {
	w := openWorld(t)
	item, err := w.desk.EnterItem(t.Context(), desk.By{Who: w.who}, desk.Item{Description: "plain band (invented)", Barcode: "T-78"})
	if err != nil {
		t.Fatal(err)
	}
	sheet, err := w.desk.OpenSheet(t.Context(), desk.By{Who: w.who}, desk.Begin{Station: "bench", Item: item.ID, Barcode: "T-78", Document: []byte(claimed)})
	if err != nil {
		t.Fatal(err)
	}
	drawn := image.NewRGBA(image.Rect(0, 0, 400, 300))
	for x := range 400 {
		for y := range 300 {
			drawn.Set(x, y, color.RGBA{uint8(x / 2), uint8(y / 2), 90, 255})
		}
	}
	var file bytes.Buffer
	if err := jpeg.Encode(&file, drawn, nil); err != nil {
		t.Fatal(err)
	}
	name := filepath.Join(t.TempDir(), "band.jpg")
	if err := os.WriteFile(name, file.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	b := c.open(t, w.home())
	b.visit("/sheet/" + sheet.Sheet.ID)
	b.ready()
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector("form[enctype]").closest("details").open = true`))
	b.upload(`[name=photo]`, name)
	b.fill(`form[enctype] [name=caption]`, "the stamp (invented)")
	b.click(`form[enctype] button`)
	b.until(`document.querySelector(".photos img")?.naturalWidth > 0`)
	if alt := eval[string](b, `document.querySelector(".photos img").alt`); alt != "the stamp (invented)" {
		t.Errorf("the photo is called %q", alt)
	}
	b.inspect(checker, "photo")
}

func walkPeople(t *testing.T, c *chrome, checker string) {
	s := byItsName(t)
	b := s.tab(t, c)
	b.signIn("boss", password)
	b.visit("/settings")
	b.fill(`form[action="/people"] [name=id]`, "ada")
	b.fill(`form[action="/people"] [name=name]`, "Ada Invented")
	b.click(`form[action="/people"] [value=measure]`)
	b.click(`form[action="/people"] button`)
	b.reads(".wrong", "(ada)")
	b.reads("h1", "Settings")
	b.visit("/settings")
	b.reads("main", "Ada Invented")
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector('form[action="/people/ada/end"]').closest("details").open = true`))
	b.inspect(checker, "settings-people")
	b.fill(`form[action="/people/ada/end"] [name=reason]`, "left (invented)")
	b.click(`form[action="/people/ada/end"] button`)
	b.until(`[...document.querySelectorAll("main li")].some((e) => e.innerText.includes("Ada Invented") && e.innerText.includes("has left"))`)
	b.until(`document.readyState === "complete" && document.querySelector("[name=strict]")`)
	b.click(`form[action="/two-factors"] [name=strict]`)
	b.click(`form[action="/two-factors"] button`)
	b.until(`document.readyState === "complete" && document.querySelector("[name=strict]")?.checked`)

	price := s.tab(t, c)
	price.signIn("price", password)
	price.at("/book")
	price.visit("/")
	price.at("/book")
	price.inspect(checker, "price-book")
	price.visit("/settings")
	price.inspect(checker, "settings-price")
}

// keeper gives the tab something that keeps passkeys.
func (b *tab) keeper() webauthn.AuthenticatorID {
	b.t.Helper()
	if _, err := chromedp.Call(b.ctx, webauthn.Enable, webauthn.EnableParams{}); err != nil {
		b.t.Fatal(err)
	}
	added, err := chromedp.Call(b.ctx, webauthn.AddVirtualAuthenticator, webauthn.AddVirtualAuthenticatorParams{Options: &webauthn.VirtualAuthenticatorOptions{
		Protocol: "ctap2", Ctap2version: "ctap2_1", Transport: webauthn.AuthenticatorTransportInternal,
		HasResidentKey: true, HasUserVerification: true, IsUserVerified: true, AutomaticPresenceSimulation: true,
	}})
	if err != nil {
		b.t.Fatal(err)
	}
	return added.AuthenticatorID
}

// walkPasskey makes a passkey, signs in without typing anything, and removes it.
func walkPasskey(t *testing.T, c *chrome, checker string) {
	s := byItsName(t)
	b := s.tab(t, c)
	keeper := b.keeper()
	b.signIn("sign", password)
	b.visit("/settings")
	b.ready()
	b.fill(`form[action="/passkeys"] [name=name]`, "phone")
	b.fill(`form[action="/passkeys"] [name=password]`, "five paper boats on a lake")
	b.click(`form[action="/passkeys"] button.passkey`)
	b.reads(`form[action="/passkeys"] .wrong`, "don't belong together")
	b.fill(`form[action="/passkeys"] [name=password]`, password)
	b.click(`form[action="/passkeys"] button.passkey`)
	b.reads("#passkeys ul", "phone")
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector("#passkeys details").open = true`))
	b.inspect(checker, "settings-passkey")

	// The same keeper gives no second one.
	b.ready()
	b.fill(`form[action="/passkeys"] [name=name]`, "phone again")
	b.fill(`form[action="/passkeys"] [name=password]`, password)
	b.click(`form[action="/passkeys"] button.passkey`)
	b.reads(`form[action="/passkeys"] .wrong`, "has one for this shop already")

	b.click(`form[action="/sign-out"] button`)
	b.at("/sign-in")
	b.ready()
	b.inspect(checker, "sign-in-passkey")
	b.click("button.passkey")
	b.reads(".where", "Sign Invented")
	b.visit("/settings")
	b.reads("#passkeys ul", "last used")

	// Locked and opened.
	b.ready()
	b.key("b")
	b.at("/unlock")
	b.ready()
	b.click(`form[action="/unlock"] button.passkey`)
	b.reads("h1", "Bench")

	// Who is not recognised by the keeper does not come in.
	b.visit("/settings")
	b.click(`form[action="/sign-out"] button`)
	b.at("/sign-in")
	b.ready()
	if _, err := chromedp.Call(b.ctx, webauthn.SetUserVerified, webauthn.SetUserVerifiedParams{AuthenticatorID: keeper, IsUserVerified: false}); err != nil {
		t.Fatal(err)
	}
	b.click("button.passkey")
	b.reads(".wrong", "gave no passkey")
	b.at("/sign-in")
	b.inspect(checker, "sign-in-passkey-none")

	// Without a keeper the password works, and removes the passkey.
	if _, err := chromedp.Call(b.ctx, webauthn.RemoveVirtualAuthenticator, webauthn.RemoveVirtualAuthenticatorParams{AuthenticatorID: keeper}); err != nil {
		t.Fatal(err)
	}
	b.signIn("sign", password)
	b.visit("/settings")
	b.ready()
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector("#passkeys details").open = true`))
	b.fill(`#passkeys li [name=password]`, password)
	b.click(`#passkeys li button:not(.passkey)`)
	b.until(`document.readyState === "complete" && document.querySelector("#passkeys") && !document.querySelector("#passkeys li")`)

	// A browser that knows no passkeys says so and shows no button.
	old := s.tab(t, c)
	if _, err := chromedp.Call(old.ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: `delete window.PublicKeyCredential`}); err != nil {
		t.Fatal(err)
	}
	old.signIn("measure", password)
	old.visit("/settings")
	old.ready()
	old.reads("#passkeys", "offers no passkeys here")
	if shown := eval[bool](old, `[...document.querySelectorAll("button.passkey")].some((e) => e.offsetParent)`); shown {
		t.Error("a passkey is offered to a browser that knows none")
	}
}
