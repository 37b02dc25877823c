package paper

import "strconv"

// RunDoc is the sheet for a drive: stops in order, what is on board, and blanks
// for when each entrance was closed and opened.
type RunDoc struct {
	Head
	On      string
	Driver  string
	From    string
	Leave   string
	KM      string   // "about 84 km"
	Mass    string   // "about 32 kg"
	Mind    []string // warnings of this run
	Load    []string
	Stops   []Stop
	Colony  bool // live colonies are on board: the cautions for bees are printed
	Trees   bool // host trees are called on: the cautions for trees are printed
	Note    string
	Dusk    string
	Returns bool
}

// Stop is one address of a run.
type Stop struct {
	Name    string
	Phone   string
	Address []string
	At      string   // "about 9:40"
	Load    []string // what is handed over or fetched
	Note    string
	Pay     string // "balance to take: …"; empty on a helper's sheet
	Colony  bool
	Closing bool     // entrances are closed here in the evening before the drive
	Look    []string // at a host tree: what is due and what to look at; a blank for what was seen follows
}

// Run draws a run sheet.
func Run(d RunDoc) ([]byte, error) {
	s := newSheet(d.Head, "Run sheet")
	s.pairs([]pair{{"On", d.On}, {"Driver", d.Driver}, {"From", join(", leave ", d.From, d.Leave)},
		{"Way", d.KM}, {"Dusk", d.Dusk}, {"Load", d.Mass}, {"Note", d.Note}})
	blocks, err := d.words().blocks("run_cautions.tmpl", d)
	if err != nil {
		return nil, err
	}
	s.gap(1)
	s.write(blocks)
	if list := some(d.Mind...); len(list) > 0 {
		s.titledList("Mind on this run", list)
	}
	if len(some(d.Load...)) > 0 {
		s.headingWith("Load before leaving", 14)
		rows := make([]row, 0, len(d.Load))
		for _, l := range some(d.Load...) {
			rows = append(rows, row{tall: 7.5, cells: []cell{{tick: true}, {text: l}}})
		}
		s.table([]column{{head: "", share: 1, align: middle}, {head: "", share: 14}}, rows, false)
	}
	s.headingWith("Stops", 30)
	rows := make([]row, 0, len(d.Stops))
	for i, stop := range d.Stops {
		entrance := cell{}
		switch {
		case stop.Closing:
			entrance = cell{text: "closed at ______"}
		case stop.Colony:
			entrance = cell{text: "closed at ______\n\nopened at ______"}
		}
		what := append(some(stop.Load...), some(stop.Pay)...)
		if list := some(stop.Look...); len(list) > 0 {
			what = append(append(what, list...), "Seen: ____________", "", "__________________")
		}
		detail := append(some(stop.Address...), some(prefixed("Ring ", stop.Phone), stop.Note)...)
		rows = append(rows, row{tall: 24, cells: []cell{{text: strconv.Itoa(i + 1), bold: true},
			{text: stop.Name, bold: true, detail: detail},
			{detail: what}, {text: stop.At}, entrance, {tick: true}}})
	}
	s.table([]column{{head: "", share: 0.8, align: right}, {head: "Who and where", share: 5}, {head: "What", share: 4.2},
		{head: "When", share: 1.9}, {head: "Entrance", share: 3}, {head: "Done", share: 1.1, align: middle}}, rows, true)
	return s.finish()
}

// SiteDoc goes to the buyer about a week ahead: what must be ready where the box
// will stand.
type SiteDoc struct {
	Head
	Buyer    Party
	Site     Place
	Order    string
	Coming   string // "Thu 12 March 2026, about 17:30"
	Brings   []string
	HasBees  bool
	MountMM  string // height and room the mount needs, in words
	LoadKG   string // full mass on the mount, in words: "about 14 kg when full"
	Facing   string // the wall and how it faces
	Sun      []string
	Fixings  string
	ToPay    string
	PayWays  []PayWay
	OwnReady []string // further things to be ready, of this site
	Day      []string // what the day will look like
}

// Site draws a site sheet.
func Site(d SiteDoc) ([]byte, error) {
	s := newSheet(d.Head, "Site sheet")
	s.body = 11
	s.panels(panel{"For", d.Buyer.lines()}, panel{"The place", d.Site.lines()}, panel{"We come", some(d.Coming, prefixed("with order ", d.Order))})
	if list := some(d.Brings...); len(list) > 0 {
		s.titledList("What we bring", list)
	}
	s.headingWith("The place itself", 10)
	s.pairs([]pair{{"Wall or stand", d.Facing}, {"Room for the mount", d.MountMM}, {"Load on the mount", d.LoadKG}, {"Fixings", d.Fixings}})
	s.bullets(some(d.Sun...))
	if list := some(d.Day...); len(list) > 0 {
		s.titledList("What the day will look like", list)
	}
	blocks, err := d.words().blocks("site_sheet.tmpl", d)
	if err != nil {
		return nil, err
	}
	s.write(blocks)
	s.bullets(some(d.OwnReady...))
	if d.ToPay != "" {
		s.headingWith("To pay on the day", 10)
		s.para(d.ToPay)
	}
	s.pay(d.PayWays)
	return s.finish()
}
