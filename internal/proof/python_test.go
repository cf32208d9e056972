package proof

import (
	"encoding/hex"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// python is that of the system, which has the Debian packages.
const python = "/usr/bin/python3"

// pythonHasLibraries says what is missing where it is missing: nothing is known of a proof that only its
// maker has checked.
func pythonHasLibraries(t *testing.T) {
	t.Helper()
	if out, err := exec.Command(python, "-c", "import cryptography, cbor2").CombinedOutput(); err != nil {
		t.Fatalf("install the Debian packages python3-cryptography and python3-cbor2, or run ./check, which does it: %v\n%s", err, out)
	}
}

// TestVerifierInPython runs doc/verify-proof.py, which shares no code with this program: OpenSSL checks the
// signature, and cbor2 reads and writes the message again.
func TestVerifierInPython(t *testing.T) {
	pythonHasLibraries(t)
	folder := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(folder, name)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	key := public("river-street").String()
	run := func(want string, code int, args ...string) {
		t.Helper()
		c := exec.Command(python, append([]string{"../../doc/verify-proof.py"}, args...)...)
		c.Env = append(os.Environ(), "PYTHONIOENCODING=utf-8", "PYTHONUTF8=1")
		out, _ := c.CombinedOutput()
		if !strings.Contains(string(out), want) || c.ProcessState.ExitCode() != code {
			t.Errorf("verify-proof.py ends with %d and says\n%s\nwant %d and %q", c.ProcessState.ExitCode(), out, code, want)
		}
	}
	text := Text(must[[]byte](t)(Sign(invented(), testKey)))
	good, status := write("good", text+"\n"), write("status", must[string](t)(SignList(inventedList(), testKey))+"\n")
	run("OK: river-street signed it; status unknown since 2026-11-27T10:00:00", 0, good, key)
	run("neither superseded nor withdrawn as of 2026-12-01T08:00:00", 0, good, key, status)
	for _, said := range []string{"D-000123, entry 1234", "plain yellow band, stamp 750", "Au 750", "met\n", "15.449 +- 0.014 g/cm3", "739 to 762 ppt", "7.42131 g", "approved"} {
		run(said, 0, good, key)
	}
	old := invented()
	old.Number, old.Item, old.ShopName = "D-000122", "指輪 – кольцо", "Münzstraße"
	superseded := write("old", Text(must[[]byte](t)(Sign(old, testKey))))
	run("指輪 – кольцо", 0, superseded, key)
	run("superseded by D-000123 as of", 2, superseded, key, status)
	old.Metal, old.Claimed, old.Claim, old.Density.U, old.Low, old.High, old.SupersededBy = "", Number{}, "corundum (ruby, sapphire)", 0, Number{}, Number{}, "D-000200"
	run("superseded by D-000200 when the proof was made", 2, write("stone", Text(must[[]byte](t)(Sign(old, testKey)))), key)
	run("corundum", 2, write("stone", Text(must[[]byte](t)(Sign(old, testKey)))), key)
	run("BROKEN", 1, good, NewKey("river-street", make([]byte, 32)).String())
	run("BROKEN", 1, good, NewKey("hill-road", public("").Public).String())
	run("BROKEN", 1, write("cut", text[:len(text)-3]), key)
	run("BROKEN", 1, good, key, write("cut-status", "WREATHLIST1:0oRJ"))
	run("BROKEN", 1, write("no", "hello"), key)
	run("verify-proof.py PROOF KEY", 1)
}

// TestEveryBitInPython flips each bit of a message and has the independent libraries check it.
func TestEveryBitInPython(t *testing.T) {
	pythonHasLibraries(t)
	message := must[[]byte](t)(Sign(invented(), testKey))
	program := `
import importlib.util, sys
spec = importlib.util.spec_from_file_location("verify_proof", sys.argv[1])
v = importlib.util.module_from_spec(spec)
spec.loader.exec_module(v)
key, message = v.public_key(sys.argv[2]), bytes.fromhex(sys.argv[3])
assert v.claims(message, key)[2] == "D-000123"
for text, plain in (("BB8", b"AB"), ("%69 VD92EX0", b"Hello!!"), ("UJCLQE7W581", b"base-45"), ("QED8WEX0", b"ietf!")):
    assert v.base45(text) == plain # RFC 9285, sections 4.3 and 4.4
free = 0
for bit in range(8 * len(message)):
    changed = bytearray(message)
    changed[bit // 8] ^= 1 << bit % 8
    try: v.claims(bytes(changed), key)
    except (SystemExit, Exception): continue
    free += 1
print("bits", 8 * len(message), "free", free)
`
	out, err := exec.Command(python, "-B", "-c", program, "../../doc/verify-proof.py", public("river-street").String(), hex.EncodeToString(message)).CombinedOutput()
	if err != nil || !strings.HasSuffix(strings.TrimSpace(string(out)), "free 0") {
		t.Errorf("%s%v", out, err)
	}
	t.Logf("%s", out)
}
