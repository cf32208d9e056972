package desk

import (
	"testing"

	"wreath/internal/spool"
)

// TestPrintsByABrowserAreCounted gives a slip to the dialog of a browser: the first print is none, the second
// is a copy, on a printer of the shop too, and sent again under its mark it is counted once.
func TestPrintsByABrowserAreCounted(t *testing.T) {
	w := openWorld(t)
	number, by := w.recorded(w.boss()), w.boss()
	by.Key = "the same act"
	ask := PrintAsk{Document: spool.Slip, Subject: number}
	for range 2 {
		if job := must[spool.Job](t)(w.PrintHere(t.Context(), by, ask)); job.Copy != 0 || job.State != spool.Printed || job.Printer != BrowserDialog || job.Subject != number {
			t.Errorf("the first print is %+v", job)
		}
	}
	if job := must[spool.Job](t)(w.PrintHere(t.Context(), w.boss(), ask)); job.Copy != 1 {
		t.Errorf("the second print is copy %d, want 1", job.Copy)
	}
	came, jobs, err := w.Prints(t.Context(), by.Who, spool.Slip, number)
	if err != nil || came != 2 || len(jobs) != 2 {
		t.Errorf("%d prints of %d jobs (%v), want 2 of 2", came, len(jobs), err)
	}
	if waiting := must[[]spool.Job](t)(w.PrintQueue(t.Context(), by.Who)); len(waiting) != 0 {
		t.Errorf("the queue holds %v", waiting)
	}
	ask.Printer = w.printer()
	must[spool.Job](t)(w.AskPrint(t.Context(), w.boss(), ask))
	if next, found, err := w.NextPrint(t.Context(), ask.Printer); err != nil || !found || next.Copy != 2 {
		t.Errorf("on a printer of the shop it is copy %d (%t, %v), want 2", next.Copy, found, err)
	}
	for _, wrong := range []PrintAsk{{Document: spool.Test}, {Document: spool.Slip, Subject: "D-999999"}, {Document: spool.Slip, Subject: number, Languages: []string{"no language"}}} {
		if _, err := w.PrintHere(t.Context(), w.boss(), wrong); err == nil {
			t.Errorf("%+v is counted", wrong)
		}
	}
}
