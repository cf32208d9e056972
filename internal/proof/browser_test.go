package proof

import (
	"context"
	"crypto/ed25519"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/png"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// browser is one tab of a real browser without a network.
type browser struct {
	t   *testing.T
	ctx context.Context

	mu    sync.Mutex
	asked []string // addresses that were asked for, but for the page itself
}

// patience is how long a condition may take to come true on a machine that is busy.
const patience = 20 * time.Second

// startBrowser starts the browser. Without one the tests fail: a page that no browser has shown is not
// known to work.
func startBrowser(t *testing.T) *browser {
	t.Helper()
	var path string
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome", "chrome"} {
		if found, err := exec.LookPath(name); err == nil {
			path = found
			break
		}
	}
	if path == "" {
		t.Fatal("there is no browser: install the Debian package chromium, or run ./check, which does it")
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true), chromedp.UserDataDir(t.TempDir()), chromedp.Flag("lang", "en"),
		chromedp.Flag("use-fake-device-for-media-stream", true), chromedp.Flag("use-fake-ui-for-media-stream", true)) // a camera that shows a test picture
	allocator, stop := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, end := chromedp.NewContext(allocator)
	t.Cleanup(func() {
		if err := chromedp.Cancel(ctx); err != nil && !errors.Is(err, context.Canceled) {
			t.Logf("the browser did not close: %v", err)
		}
		end()
		stop()
	})
	ctx, late := context.WithTimeout(ctx, 4*time.Minute)
	t.Cleanup(late)
	b := &browser{t: t, ctx: ctx}
	b.do(chromedp.Navigate("about:blank"))
	if err := chromedp.Listen(ctx, func(ev any) {
		if e, is := ev.(*network.EventRequestWillBeSent); is && !strings.HasPrefix(e.Request.URL, "file://") && !strings.HasPrefix(e.Request.URL, "blob:") {
			b.mu.Lock()
			b.asked = append(b.asked, e.Request.URL)
			b.mu.Unlock()
		}
	}); err != nil {
		t.Fatal(err)
	}
	call(b, network.Enable, network.EnableParams{})
	call(b, network.EmulateNetworkConditionsByRule, network.EmulateNetworkConditionsByRuleParams{
		MatchedNetworkConditions: []*network.Conditions{{Offline: true, DownloadThroughput: -1, UploadThroughput: -1}},
	})
	return b
}

func call[P, R any](b *browser, command cdp.Command[P, R], params P) R {
	b.t.Helper()
	out, err := chromedp.Call(b.ctx, command, params)
	if err != nil {
		b.t.Fatal(err)
	}
	return out
}

func (b *browser) do(actions ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, actions...); err != nil {
		b.t.Fatal(err)
	}
}

func eval[T any](b *browser, expression string, args ...any) T {
	b.t.Helper()
	out, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](fmt.Sprintf(expression, args...), chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatalf("%.300s: %v", fmt.Sprintf(expression, args...), err)
	}
	return out
}

func (b *browser) until(condition string, args ...any) {
	b.t.Helper()
	condition = fmt.Sprintf(condition, args...)
	for deadline := time.Now().Add(patience); time.Now().Before(deadline); {
		if so, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool]("!!("+condition+")")); err == nil && so {
			return
		}
		select {
		case <-b.ctx.Done():
			b.t.Fatal(b.ctx.Err())
		case <-time.After(15 * time.Millisecond):
		}
	}
	b.t.Fatalf("it did not come true that %.200s; the page reads:\n%.2000s", condition, eval[string](b, "document.body.innerText"))
}

// open opens a page from a file.
func (b *browser) open(o PageOptions) {
	b.t.Helper()
	text := must[[]byte](b.t)(Page(o))
	name := filepath.Join(b.t.TempDir(), "check.html")
	if err := os.WriteFile(name, text, 0o644); err != nil {
		b.t.Fatal(err)
	}
	b.do(chromedp.Navigate((&url.URL{Scheme: "file", Path: name}).String()))
	b.until(`document.documentElement.dataset.ready`)
}

// scan types a text into the field as a scanner does, the enter key at its end, and gives what the page
// says.
func (b *browser) scan(text, verdict string) string {
	b.t.Helper()
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector("#clear").click()`), chromedp.KeyEvent(text+"\r"))
	b.until(`document.querySelector("#text").value === %q && document.querySelector(".verdict.%s")`, text, verdict)
	return eval[string](b, `document.querySelector("#answer").innerText`)
}

// paste puts a text into the field at once.
func (b *browser) paste(text, verdict string) {
	b.t.Helper()
	b.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`(() => { document.querySelector("#answer").replaceChildren(); const f = document.querySelector("#text"); f.value = %q; f.dispatchEvent(new Event("input", {bubbles: true})); })()`, text)))
	b.until(`document.querySelector(".verdict.%s")`, verdict)
}

// picture writes what the tab shows to a file of the folder that WREATH_PICTURES names, if it names one.
func (b *browser) picture(name string) {
	b.t.Helper()
	folder := os.Getenv("WREATH_PICTURES")
	if folder == "" {
		return
	}
	shot, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	if err == nil {
		err = errors.Join(os.MkdirAll(folder, 0o755), os.WriteFile(filepath.Join(folder, name+".png"), shot, 0o644))
	}
	if err != nil {
		b.t.Fatal(err)
	}
}

func (b *browser) says(got string, want ...string) {
	b.t.Helper()
	for _, w := range want {
		if !strings.Contains(got, w) {
			b.t.Errorf("%q is missing in\n%s", w, got)
		}
	}
}

// TestPage checks proofs with the page, from a file, in a real browser without a network.
func TestPage(t *testing.T) {
	b := startBrowser(t)
	key := public("river-street").String()
	_, other, err := ed25519.GenerateKey(nil)
	if err != nil {
		t.Fatal(err)
	}
	later := NewKey("river-street", other.Public().(ed25519.PublicKey))
	message := must[[]byte](t)(Sign(invented(), testKey))
	text := Text(message)
	list := must[string](t)(SignList(inventedList(), testKey))
	options := PageOptions{ShopName: "River Street Assay Counter", Keys: []string{later.String(), key}, Language: "en"}

	t.Run("without a list", func(t *testing.T) {
		b.t = t
		b.open(options)
		got := b.scan(text, "unsure")
		b.says(got, "The proof holds", "River Street Assay Counter signed it", "no status list is at hand", "D-000123", "plain yellow band, stamp 750", "gold 750", "met", "15.449 ± 0.014 g/cm³ (95 %)", "739 to 762 ‰", "7.42131 g",
			"approved by those", "1240/", hex.EncodeToString(message[:0]))
		s := invented()
		b.says(strings.Join(strings.Fields(got), ""), hex.EncodeToString(s.Hash[:]), fmt.Sprintf("%x", public("river-street").Mark))
		b.picture("unknown-light")
		b.says(b.scan(strings.ToLower(text), "unsure"), "The proof holds")
		b.paste("WREAT H1:\n"+strings.ReplaceAll(text[8:], " ", "_"), "unsure") // as a slip shows it
	})
	t.Run("with a list", func(t *testing.T) {
		b.t = t
		with := options
		with.List = list
		b.open(with)
		b.says(b.scan(text, "yes"), "The proof holds", "Neither superseded nor withdrawn as of 1 December 2026")
		b.picture("standing-light")
		old := invented()
		old.Number = "D-000122"
		b.says(b.scan(Text(must[[]byte](t)(Sign(old, testKey))), "fallen"), "Superseded by D-000123", "signed by the shop")
		b.picture("superseded-light")
		gone := invented()
		gone.Number = "D-000007"
		b.says(b.scan(Text(must[[]byte](t)(Sign(gone, testKey))), "fallen"), "Withdrawn")
		newer := invented()
		newer.Entry, newer.Size = 2000, 2001
		b.says(b.scan(Text(must[[]byte](t)(Sign(newer, testKey))), "unsure"), "made before this record")
		twice := invented()
		twice.Size = 2000
		b.says(b.scan(Text(must[[]byte](t)(Sign(twice, testKey))), "no"), "Not to be believed", "two different logs of 2000")
	})
	t.Run("a list that is pasted", func(t *testing.T) {
		b.t = t
		b.open(options)
		b.scan(text, "unsure")
		b.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`(() => { const f = document.querySelector("#list-text"); f.value = %q; f.dispatchEvent(new Event("input", {bubbles: true})); })()`, list)))
		b.until(`document.querySelector(".verdict.yes")`)
		b.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`(() => { const f = document.querySelector("#list-text"); f.value = %q; f.dispatchEvent(new Event("input", {bubbles: true})); })()`, list[:30]+"!"+list[31:])))
		b.until(`document.querySelector("#list-fault").textContent && document.querySelector(".verdict.unsure")`)
	})
	t.Run("a list from a file", func(t *testing.T) {
		b.t = t
		b.open(options)
		b.scan(text, "unsure")
		name := filepath.Join(t.TempDir(), "status.txt")
		if err := os.WriteFile(name, []byte(list+"\n"), 0o644); err != nil {
			t.Fatal(err)
		}
		b.do(chromedp.SetUploadFiles(chromedp.CSS("#list-file"), []string{name}))
		b.until(`document.querySelector(".verdict.yes")`)
	})
	t.Run("refused", func(t *testing.T) {
		b.t = t
		b.open(options)
		flipped := []byte(string(message))
		flipped[100] ^= 4
		b.says(b.scan(Text(flipped), "no"), "Not to be believed", "The signature does not hold")
		b.picture("forged-light")
		b.says(b.scan(text[:len(text)-1], "no"), "damaged")
		b.says(b.scan("https://example.org", "no"), "This is no proof")
		b.says(b.scan("WREATH2"+text[7:], "no"), "newer page")
		b.says(b.scan("WREATH1;"+text[8:], "no"), "keyboard layout")
		strange := invented()
		strange.Shop = "hill-road"
		b.says(b.scan(Text(must[[]byte](t)(Sign(strange, other))), "no"), "another shop, hill-road")
		_, third, err := ed25519.GenerateKey(nil)
		if err != nil {
			t.Fatal(err)
		}
		unknown := Text(must[[]byte](t)(Sign(invented(), third)))
		b.says(b.scan(unknown, "no"), "none of the keys of that shop")
		// The shop's next key, typed in, makes it known.
		b.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`(() => { const f = document.querySelector("#key-text"); f.value = %q; f.dispatchEvent(new Event("change", {bubbles: true})); })()`, NewKey("river-street", third.Public().(ed25519.PublicKey)))))
		b.until(`document.querySelector(".verdict.unsure")`)
	})
	t.Run("every bit", func(t *testing.T) {
		b.t = t
		b.open(options)
		free := eval[[]int](b, `(async () => {
			const message = %s, free = [];
			await open(Uint8Array.from(message), keys);
			for (let bit = 0; bit < 8 * message.length; bit++) {
				const changed = Uint8Array.from(message);
				changed[bit >> 3] ^= 1 << (bit & 7);
				try { await open(changed, keys); free.push(bit); } catch (e) { if (!(e instanceof Fault)) throw e; }
			}
			return free;
		})()`, string(must[[]byte](t)(json.Marshal(ints(message)))))
		if len(free) > 0 {
			t.Errorf("these bits are free: %v", free)
		}
	})
	t.Run("published vectors", func(t *testing.T) {
		b.t = t
		b.open(options)
		// RFC 8032, section 7.1, tests 1 to 3, by the browser and by the page's own arithmetic.
		for _, v := range [][3]string{
			{"d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a", "", "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b"},
			{"3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c", "72", "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"},
			{"fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025", "af82", "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a"},
		} {
			got := eval[[]bool](b, `(async () => {
				const of = (text) => Uint8Array.from(text.match(/../g) || [], (x) => parseInt(x, 16));
				const key = of(%q), message = of(%q), signature = of(%q), changed = signature.slice();
				changed[40] ^= 1;
				return [await verify(key, message, signature), verifyHere(key, message, signature), await verify(key, message, changed), verifyHere(key, message, changed), verifyHere(key, joined(message, [0]), signature)];
			})()`, v[0], v[1], v[2])
			if !slices.Equal(got, []bool{true, true, false, false, false}) {
				t.Errorf("%s: %v", v[0], got)
			}
		}
		// EdDSA-sig-02 of github.com/cose-wg/Examples: what is signed over.
		if got := eval[string](b, `hex(signedBytes(Uint8Array.from([0xa1, 0x01, 0x27]), new TextEncoder().encode("This is the content.")))`); got != "846a5369676e61747572653143a101274054546869732069732074686520636f6e74656e742e" {
			t.Errorf("signed over %s", got)
		}
		// RFC 9285, section 4.4; SHA-512 of "abc", FIPS 180-2, appendix C.1.
		if got := eval[string](b, `new TextDecoder().decode(fromBase45("QED8WEX0"))`); got != "ietf!" {
			t.Errorf("QED8WEX0 is %q", got)
		}
		if got := eval[string](b, `hex(sha512(new TextEncoder().encode("abc")))`); got != "ddaf35a193617abacc417349ae20413112e6fa4e89a97ea20a9eeee64b55d39a2192992a274fc1a836ba3c23a3feebbd454d4423643ce80e2a9ac94fa54ca49f" {
			t.Errorf("SHA-512 of abc is %s", got)
		}
		if got := eval[bool](b, `(async () => { for (const n of [0, 1, 55, 56, 63, 64, 111, 112, 127, 128, 1000]) {
			const x = Uint8Array.from({length: n}, (_, i) => i * 7);
			if (hex(sha512(x)) !== hex(new Uint8Array(await crypto.subtle.digest("SHA-512", x)))) return false;
		} return true; })()`); !got {
			t.Error("SHA-512 is not that of the browser")
		}
	})
	t.Run("looks", func(t *testing.T) {
		b.t = t
		checker, err := os.ReadFile("../../.tools/node/node_modules/axe-core/axe.min.js")
		if err != nil {
			t.Fatal("the accessibility checker is missing: run ./check, or: npm install --no-save --prefix .tools/node axe-core@4.14.1")
		}
		with := options
		with.List = list
		old := invented()
		old.Number, old.Suspended, old.Demo, old.Cut, old.Report, old.Item = "D-000122", true, true, true, "R-000001", strings.Repeat("Armreif", 7)+"…"
		flipped := []byte(string(message))
		flipped[100] ^= 4
		shown := []struct{ name, text, verdict string }{{"standing", text, "yes"}, {"superseded", Text(must[[]byte](t)(Sign(old, testKey))), "fallen"}, {"forged", Text(flipped), "no"}}
		for _, look := range []struct{ scheme, contrast string }{{"light", "no-preference"}, {"dark", "no-preference"}, {"light", "more"}, {"dark", "more"}} {
			call(b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: look.scheme}, {Name: "prefers-contrast", Value: look.contrast}}})
			for _, language := range PageLanguages {
				if look.scheme == "dark" && language == "es" || look.contrast == "more" && language != "en" {
					continue // colours do not hang on the language
				}
				with.Language = language
				b.do(chromedp.EmulateViewport(1280, 800))
				b.open(with)
				b.do(chromedp.Evaluate[chromedp.Void](`for (const d of document.querySelectorAll("details")) d.open = true`), chromedp.Evaluate[chromedp.Void](string(checker)+"; void 0"))
				for _, s := range shown {
					b.paste(s.text, s.verdict)
					for _, v := range eval[[]string](b, `axe.run(document, {resultTypes: ["violations"]}).then((r) => r.violations.flatMap((v) => v.nodes.map((n) => v.id + ": " + n.html.slice(0, 160) + " " + (n.any[0]?.message ?? ""))))`) {
						t.Errorf("%s, %v, %s: %s", s.name, look, language, v)
					}
					for _, width := range []int64{1280, 390, 320} {
						b.do(chromedp.EmulateViewport(width, 800))
						if over := eval[int](b, `document.documentElement.scrollWidth - innerWidth`); over > 0 {
							t.Errorf("%s, %s at %d px: %d px too wide", s.name, language, width, over)
						}
						small := eval[[]string](b, `[...document.querySelectorAll("button, .button, summary, input:not(.unseen), textarea")].filter((e) => e.offsetParent && (e.offsetHeight < 48 || e.offsetWidth < 48)).map((e) => e.id + " " + e.textContent)`)
						if len(small) > 0 {
							t.Errorf("%s at %d px: too small to touch: %q", language, width, small)
						}
						if look.contrast == "no-preference" && width != 320 {
							b.picture(fmt.Sprintf("page-%s-%s-%s-%d", s.name, look.scheme, language, width))
						}
					}
					b.do(chromedp.EmulateViewport(1280, 800))
				}
			}
		}
		call(b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{})
	})
	t.Run("languages", func(t *testing.T) {
		b.t = t
		b.open(options)
		b.scan(text, "unsure")
		b.do(chromedp.Click(chromedp.CSS(`[data-language="de"]`)))
		b.until(`document.documentElement.lang === "de" && document.querySelector("#answer").innerText.includes("15,449 ± 0,014 g/cm³")`)
		b.says(eval[string](b, `document.body.innerText`), "Der Beweis hält", "Gold 750", "erfüllt", "Prüfen")
		b.do(chromedp.Click(chromedp.CSS(`[data-language="es"]`)))
		b.until(`document.querySelector("#answer").innerText.includes("La prueba es válida")`)
		lost := eval[[]string](b, `Object.keys(words.en).flatMap((k) => ["de", "es"].filter((l) => !(k in words[l]) ||
			JSON.stringify(words[l][k]).match(/\{\d\}/g)?.sort().join() !== JSON.stringify(words.en[k]).match(/\{\d\}/g)?.sort().join()).map((l) => l + ": " + k))`)
		if len(lost) > 0 {
			t.Errorf("these words are not said in every language: %q", lost)
		}
		if same := eval[[]string](b, `["de", "es"].flatMap((l) => Object.keys(words[l]).filter((k) => !(k in words.en)))`); len(same) > 0 {
			t.Errorf("these words are not said in English: %q", same)
		}
	})
	t.Run("without the browser's arithmetic", func(t *testing.T) {
		b.t = t
		added := call(b, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: `Object.defineProperty(crypto, "subtle", {value: undefined})`})
		with := options
		with.List = list
		b.open(with)
		if eval[bool](b, `!!crypto.subtle`) {
			t.Fatal("the browser still has its own")
		}
		b.says(b.scan(text, "yes"), "The proof holds")
		flipped := []byte(string(message))
		flipped[len(flipped)-3] ^= 1
		b.says(b.scan(Text(flipped), "no"), "The signature does not hold")
		call(b, page.RemoveScriptToEvaluateOnNewDocument, page.RemoveScriptToEvaluateOnNewDocumentParams(added))
	})
	t.Run("a photo and the camera", func(t *testing.T) {
		b.t = t
		// This browser reads no codes, so a reader stands in that knows the text and looks at what it is given.
		added := call(b, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: fmt.Sprintf(`globalThis.BarcodeDetector = class {
			static async getSupportedFormats() { return ["qr_code"]; }
			async detect(picture) {
				const fits = picture instanceof ImageBitmap ? picture.width === 1 : picture instanceof HTMLVideoElement && picture.videoWidth > 100 && !picture.paused && !picture.hidden;
				return fits ? [{rawValue: "4006381333931"}, {rawValue: %q}] : [];
			}
		}`, text)})
		b.open(options)
		name := filepath.Join(t.TempDir(), "photo.png")
		f := must[*os.File](t)(os.Create(name))
		if err := errors.Join(png.Encode(f, image.NewGray(image.Rect(0, 0, 1, 1))), f.Close()); err != nil {
			t.Fatal(err)
		}
		b.until(`document.querySelector("#photo-button").offsetParent && !document.querySelector("#camera").hidden`)
		b.do(chromedp.SetUploadFiles(chromedp.CSS("#photo"), []string{name}))
		b.until(`document.querySelector(".verdict")`)
		b.says(eval[string](b, `document.querySelector("#answer").innerText`), "The proof holds")
		b.picture("photo")
		b.do(chromedp.Click(chromedp.CSS("#clear")), chromedp.Click(chromedp.CSS("#camera")))
		b.until(`document.querySelector(".verdict.unsure") && stream === null && document.querySelector("#viewfinder").hidden`)
		b.says(eval[string](b, `document.querySelector("#answer").innerText`), "The proof holds")
		call(b, page.RemoveScriptToEvaluateOnNewDocument, page.RemoveScriptToEvaluateOnNewDocumentParams(added))
	})
	b.t = t
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(b.asked) > 0 {
		t.Errorf("the page asked for %q", b.asked)
	}
}

func ints(b []byte) (out []int) {
	for _, x := range b {
		out = append(out, int(x))
	}
	return out
}

// TestPageIsWhole: nothing in the page comes from outside, and it carries what it was made for.
func TestPageIsWhole(t *testing.T) {
	key := public("river-street").String()
	text := string(must[[]byte](t)(Page(PageOptions{ShopName: `</script><b>"&`, Keys: []string{key}})))
	for _, outside := range []string{"http:", "https:", "src=", "href=", "@import", "url(", "fetch(", "XMLHttpRequest", "WebSocket", "sendBeacon", "eval(", "innerHTML", "{{", `</script><b>`} {
		if strings.Contains(text, outside) {
			t.Errorf("%q stands in the page", outside)
		}
	}
	if !strings.Contains(text, PagePolicy) || len(text) > 64<<10 {
		t.Errorf("%d bytes", len(text))
	}
	t.Logf("%d bytes", len(text))
	if again := string(must[[]byte](t)(Page(PageOptions{ShopName: `</script><b>"&`, Keys: []string{key}}))); again != text {
		t.Error("made again it is another page")
	}
	list := must[string](t)(SignList(inventedList(), testKey))
	for name, o := range map[string]PageOptions{
		"no key": {}, "a bad key": {Keys: []string{"x"}}, "a language": {Keys: []string{key}, Language: "xx"}, "a bad list": {Keys: []string{key}, List: list[:90]},
		"a list of another shop": {Keys: []string{NewKey("hill-road", testKey.Public().(ed25519.PublicKey)).String()}, List: list},
	} {
		if _, err := Page(o); err == nil {
			t.Errorf("%s: a page", name)
		}
	}
}
