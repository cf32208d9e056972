package sentence

import (
	"encoding/json"
	"os"
	"strings"
	"testing"
)

// TestWhatLiveReadingsBringIsSaid puts sentences together as the rooms of live readings do. The numbers
// and words in them are invented.
func TestWhatLiveReadingsBringIsSaid(t *testing.T) {
	texts := map[string]string{}
	for _, text := range []string{
		"The reading drifts up by 0.0004 g a second: the balance drifts, or the item is not at the temperature of the air.",
		"The reading drifts down by 0.0004 g a second.",
		"The reading jumps by 0.0042 g: a bubble leaves the item, 2.0 mm wide.",
		"Reading 3 was not the item in air but the item in the liquid. A person said so.",
		"Reading 3 has come to 4.6801 g. It weighs what the item weighed, to 0.0002 g. The 0.0011 g that stood there before is subtracted.",
		"The liquid lifts 0.4120 g of 4.6801 g: about 11 g/cm³, as solids have.",
		"23.4005 g would be the item in air if the display showed carats. Look at its unit.",
		"What rests at 4.2700 g? The item weighed 4.6801 g.",
		`Lines like "ST 4.27 g" are taken as overload by their word; nobody said so.`,
		`Two or more numbers are always equal and agree with what was shown in every line ("N"). Set a tare, so that net and gross differ.`,
		`The unit "gr" is read as gram and as grain. Set the instrument to grams, or say the unit.`,
		`the unit "oz" at byte 9 is the ordinary ounce or the troy ounce`,
		`a number with 4 digits behind a decimal point is meant at byte 3, and the line ends there`,
		"It can't be listened to: the link was cut; plug it in again.",
		"Not connected: the link was cut; plug it in again.",
		"No balance is linked at this station.",
		// What speaks against a reading may be two sentences, of the recogniser and of the line.
		"No solid lifts so much, or so little: something bears it, or it is another item. The unit is ct and was g.",
		"It scatters more than usual here: its standard uncertainty is 0.0021 g. 12057.2 g is more than the balance can carry.",
		"The balance was not seen at zero before it: read the empty hanger after it. The last digit stands for 0.01 g and stood for 0.001 g: this may be another balance, or another range of this one.",
		"The hanger hung in the liquid before it: if the item was in the liquid since, this is the closing weighing. The balance shows what it showed for the item before, to the last digit.",
		"Later weighings leave open what it was. Two readings marked as settled lie 0.42 g apart within 0.1 s; no balance is that quick.",
		"write listen://127.0.0.1:4001, or add ?network=yes if whoever is in your network may send readings",
	} {
		texts[text] = "live readings"
	}
	saidAll(t, texts)
}

// TestOneWordForTheCheckPiece asks that pages and sentences call it by one name in each language.
func TestOneWordForTheCheckPiece(t *testing.T) {
	for _, c := range []struct{ file, name string }{
		{"es.json", "de control"}, {"../web/locale/es.json", "de control"}, {"de.json", "prüfstück"}, {"../web/locale/de.json", "prüfstück"},
	} {
		data, err := os.ReadFile(c.file)
		if err != nil {
			t.Fatal(err)
		}
		var texts map[string]string
		if err := json.Unmarshal(data, &texts); err != nil {
			t.Fatal(err)
		}
		n := 0
		for english, text := range texts {
			if !strings.Contains(strings.ToLower(english), "check piece") {
				continue
			}
			n++
			if !strings.Contains(strings.ToLower(text), c.name) {
				t.Errorf("%s: %q is %q, without %q", c.file, english, text, c.name)
			}
		}
		if n < 10 {
			t.Errorf("%s: only %d texts name the check piece", c.file, n)
		}
	}
}
