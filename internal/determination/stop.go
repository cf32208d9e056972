package determination

// StopRule says when to stop repeating. It is agreed before the first reading, so that nobody can
// stop where the answer pleases.
type StopRule struct {
	ExpandedKgM3 *float64 `json:"expanded_kg_m3" doc:"expanded uncertainty of the density that is enough; what the finding asks for unless said"`
	Least        *int     `json:"least" doc:"fewest weighings in the liquid; those of the house rule unless said"`
	Most         *int     `json:"most" doc:"most weighings in the liquid; 10 unless said"`
}

// Stop is what the stop rule says between two repeats.
type Stop struct {
	Verdict      string   `json:"verdict" doc:"enough, one more or useless"`
	Why          string   `json:"why" doc:"in words"`
	Repeats      int      `json:"repeats" doc:"weighings in the liquid so far"`
	Least        int      `json:"least" doc:"fewest that the rule asks for"`
	Most         int      `json:"most" doc:"most that the rule allows"`
	WantedKgM3   *float64 `json:"wanted_kg_m3" doc:"expanded uncertainty that is enough; null where the rule names none"`
	ExpandedKgM3 float64  `json:"expanded_kg_m3" doc:"expanded uncertainty so far"`
	AfterKgM3    float64  `json:"after_kg_m3" doc:"expanded uncertainty to expect after one more weighing in the liquid"`
	FloorKgM3    float64  `json:"floor_kg_m3" doc:"expanded uncertainty that no number of repeats passes"`
}
