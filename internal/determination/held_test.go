package determination

import (
	"slices"
	"strings"
	"testing"
)

// TestDenserThanTheClaimHasNoFigure: an item that is denser than any recipe of the claim, and rather of
// another metal than finer, is not paid as the finer alloy that it would be. Invented readings.
func TestDenserThanTheClaimHasNoFigure(t *testing.T) {
	a := answered(t, rounded(mixedItem(t, 12.4, 16.48, claims750+`, "item": {"colour": "yellow"}`)))
	i := slices.IndexFunc(a.Doubts, func(d Doubt) bool { return d.Suspends })
	if i < 0 || a.Doubts[i].Verdict != "favoured" || a.Finding.Result != "undecided" {
		t.Errorf("%s, doubts %+v", a.Finding.Result, a.Doubts)
	}
}

// TestNoFamilyOfTheClaimIsCondemned: white gold 750 with nickel, at the light end of its recipes, has the
// density of palladium white gold 585 too. It may be what is claimed.
func TestNoFamilyOfTheClaimIsCondemned(t *testing.T) {
	a := answered(t, rounded(mixedItem(t, 10, 14.602, `"claim": {"metal": "gold", "fineness": 750}, "item": {"colour": "white"}`)))
	fits := slices.ContainsFunc(a.Candidates, func(c Candidate) bool { return c.Family == "gold-white-nickel" && c.Fineness == 750 && c.Fits })
	if !fits || a.Finding.Result != "undecided" || a.Finding.WouldBe != "" {
		t.Errorf("fits %v: %+v", fits, a.Finding)
	}
}

// TestUndecidedHasANextStep: where no weighing decides, something else than density is proposed: what is
// at hand, else an assay.
func TestUndecidedHasANextStep(t *testing.T) {
	d := rounded(mixedItem(t, 50, 19.28, `"claim": {"metal": "gold", "fineness": 999.9}, "stop_rule": {"expanded_kg_m3": 100}`))
	a := answered(t, d)
	if a.Finding.Result != "undecided" || a.Next == nil || a.Next.Key != "assay" {
		t.Errorf("%s, next %+v", a.Finding.Result, a.Next)
	}
	d.AtHand = []string{"sound"}
	if a := answered(t, d); a.Next == nil || a.Next.Key != "sound" {
		t.Errorf("sound is at hand, next %+v", a.Next)
	}
}

// TestWeakCheckPieceIsReplaced: a check piece that proves nothing is the next thing to mend, before any
// fault that it can't speak of.
func TestWeakCheckPieceIsReplaced(t *testing.T) {
	d := rounded(mixedItem(t, 12.4, 15.45, claims750))
	rho := 7930.0
	d.Liquid.Proof = &Proof{AirG: []Reading{{Gram: 0.7930, Interval: 0.0001}}, LiquidG: []Reading{{Gram: 0.6932, Interval: 0.0001}}, DensityKgM3: &rho, DensityUKgM3: ptrTo(0.4)}
	a := answered(t, d)
	if a.Next == nil || a.Next.Key != "check-piece" || !strings.Contains(a.Next.Act, "larger") {
		t.Errorf("next %+v, doubts %+v", a.Next, a.Doubts)
	}
}

// TestNumbersAreWrittenOut: no message shows an exponent, and the mass at the intake is one of an item.
func TestNumbersAreWrittenOut(t *testing.T) {
	for field, spoil := range map[string]func(*Draft){
		"item.intake_mass_g":         func(d *Draft) { d.Item = &Item{IntakeMassG: ptrTo(-3.0)} },
		"liquid.density_u_kg_m3":     func(d *Draft) { d.Liquid.DensityUKgM3 = ptrTo(1e9) },
		"balance.resolution_g":       func(d *Draft) { d.Balance.ResolutionG = ptrTo(1e-9) },
		"item.intake_mass_g, a zero": func(d *Draft) { d.Item = &Item{IntakeMassG: ptrTo(0.0)} },
	} {
		d := mixedItem(t, 12.4, 15.45, claims750)
		spoil(d)
		_, err := Evaluate(d, Options{})
		if err == nil || !strings.HasPrefix(err.Error(), strings.Split(field, ",")[0]) || strings.Contains(err.Error(), "e+") || strings.Contains(err.Error(), "e-") {
			t.Errorf("%s: %v", field, err)
		}
	}
	d := rounded(mixedItem(t, 12.4, 15.45, claims750))
	d.ClosingAirG = []Reading{{Gram: 124, Interval: 0.1}}
	for _, doubt := range answered(t, d).Doubts {
		if strings.Contains(doubt.Sign+doubt.Sentence, "e+") {
			t.Errorf("an exponent: %+v", doubt)
		}
	}
}

// TestHeapHasNoFinding: the density of a heap is that of none of its items, so its numbers decide nothing.
func TestHeapHasNoFinding(t *testing.T) {
	a := answered(t, rounded(mixedItem(t, 40, 15.45, claims750+`, "item": {"heap": true}`)))
	if a.Finding.Result != "undecided" || a.Finding.WouldBe != "" {
		t.Errorf("%+v", a.Finding)
	}
}
