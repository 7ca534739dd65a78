package report

import "cogledger/analysis/trend"

// A DocumentTrend sets the weeks of the rides side by side.
type DocumentTrend struct {
	Weeks     []DocumentWeek   `json:"weeks" jsonschema:"description=in order of time; weeks without rides are left out"`
	Undated   int              `json:"undated_rides" jsonschema:"description=rides whose logs have no absolute time; they are in no week"`
	Changes   []DocumentChange `json:"changes" jsonschema:"description=the last week against all before it; empty with fewer than two weeks"`
	Resamples int              `json:"resamples" jsonschema:"description=draws of whole rides behind the intervals; 0 without changes"`
}

// A DocumentWeek is what the rides of one week add up to.
type DocumentWeek struct {
	Monday       *string        `json:"monday" jsonschema:"nullable,description=YYYY-MM-DD in UTC; null in a private report"`
	Rides        int            `json:"rides"`
	DistanceM    Number         `json:"distance_m"`
	AscentM      Number         `json:"ascent_m"`
	WhPerKm      Number         `json:"wh_per_km" jsonschema:"description=as metered"`
	LikeForLike  DocumentFigure `json:"wh_per_km_corrected" jsonschema:"description=as it would have been on the ground\\, load and assist of all these rides"`
	LuggingShare DocumentFigure `json:"lugging_share_corrected" jsonschema:"description=of loaded time\\, corrected in the same way"`
}

// A DocumentChange is one figure before and in the last week.
type DocumentChange struct {
	Key        string         `json:"key"`
	Unit       string         `json:"unit"`
	Before     DocumentFigure `json:"before"`
	After      DocumentFigure `json:"after"`
	Difference DocumentFigure `json:"difference"`
	Margin     Number         `json:"margin" jsonschema:"description=differences smaller than this do not matter"`
	Chance     Number         `json:"chance" jsonschema:"description=how often chance alone makes a difference as striking in any of the figures\\, 0 to 1"`
	Verdict    string         `json:"verdict" jsonschema:"enum=cannot tell,enum=improved,enum=no change,enum=worse"`
}

func documentTrend(t trend.Trend, o Options) DocumentTrend {
	d := DocumentTrend{Weeks: []DocumentWeek{}, Undated: t.Undated, Changes: []DocumentChange{}}
	for _, w := range t.Weeks {
		week := DocumentWeek{Rides: w.Rides, DistanceM: Number(w.Distance), AscentM: Number(w.Ascent), WhPerKm: Number(w.Group.WhPerKm),
			LikeForLike: documentFigure(w.WhPerKm), LuggingShare: documentFigure(w.Lugging)}
		if !o.Privacy {
			monday := w.Monday.Format("2006-01-02")
			week.Monday = &monday
		}
		d.Weeks = append(d.Weeks, week)
	}
	if t.Latest == nil {
		return d
	}
	d.Resamples = t.Latest.Resamples
	for _, c := range t.Latest.Changes {
		d.Changes = append(d.Changes, DocumentChange{c.Key, c.Unit, documentFigure(c.Before), documentFigure(c.After), documentFigure(c.Difference),
			Number(c.Margin), Number(c.Chance), c.Verdict.String()})
	}
	return d
}
