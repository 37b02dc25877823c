package demo

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// Visit says how a running kerfbook is reached, and what is to be left behind.
type Visit struct {
	URL    string
	Token  string
	Papers string    // folder for the papers; empty: none are written
	Out    io.Writer // is told what happened, line by line
}

// Walk takes one new job through the REST address, as a program with a token would: from
// the call to the handover, the balance and the invoice. The job is made of what the book
// holds; any answer of 400 and more ends it with an error.
func Walk(ctx context.Context, v Visit) (err error) {
	if v.Papers != "" {
		if err := os.MkdirAll(v.Papers, 0o755); err != nil {
			return err
		}
	}
	w := &walker{Visit: v, ctx: ctx, client: &http.Client{Timeout: 60 * time.Second}, run: time.Now().UnixNano()}
	defer func() {
		if r := recover(); r != nil {
			t, ok := r.(trouble)
			if !ok {
				panic(r)
			}
			err = t.error
		}
	}()
	w.sell()
	w.make()
	w.bring()
	w.settle()
	w.say("Done: %d requests, %d papers.", w.requests, w.papers)
	return nil
}

// walker is one job on its way.
type walker struct {
	Visit
	ctx      context.Context
	client   *http.Client
	run      int64 // in the keys of requests
	requests int
	papers   int

	today string
	site  int64
	party party
	order order
	unit  unit
	build build
	box   string
}

// What is read of the answers.
type (
	party struct {
		ID   int64  `json:"id"`
		Name string `json:"name"`
	}
	page[T any] struct {
		Items []T `json:"items"`
	}
	named struct {
		ID       int64  `json:"id"`
		Code     string `json:"code"`
		Name     string `json:"name"`
		LatestID int64  `json:"latest_revision_id"`
	}
	reply struct {
		AsOf    string `json:"as_of"`
		Price   int64  `json:"price_minor"`
		Tax     int64  `json:"tax_minor"`
		TaxName string `json:"tax_name"`
		Cost    int64  `json:"cost_minor"`
		Left    int64  `json:"left_minor"`
		BoxOn   string `json:"box_on"`
		BeesOn  string `json:"colony_on"`
		Reasons []struct {
			Part string `json:"part"`
			Text string `json:"text"`
		} `json:"reasons"`
	}
	quote struct {
		ID         int64  `json:"id"`
		Version    int    `json:"version"`
		Name       string `json:"name"`
		ValidUntil string `json:"valid_until"`
		Deposit    int64  `json:"deposit_minor"`
		Price      int64  `json:"price_minor"`
	}
	order struct {
		ID      int64  `json:"id"`
		Number  string `json:"number"`
		Price   int64  `json:"price_minor"`
		Deposit int64  `json:"deposit_minor"`
		Balance int64  `json:"balance_minor"`
		State   string `json:"state"`
		Lines   []struct {
			Kind     string  `json:"kind"`
			Revision int64   `json:"model_revision_id"`
			Timber   int64   `json:"timber_species_id"`
			Options  []int64 `json:"option_ids"`
			Units    []unit  `json:"units"`
		} `json:"lines"`
	}
	unit struct {
		ID       int64  `json:"id"`
		State    string `json:"state"`
		BoxOn    string `json:"promised_box_on"`
		BeesOn   string `json:"promised_colony_on"`
		BoxID    int64  `json:"box_id"`
		Serial   string `json:"box_serial"`
		ColonyID int64  `json:"colony_id"`
	}
	build struct {
		Build struct {
			ID      int64   `json:"id"`
			Version int     `json:"version"`
			Number  string  `json:"number"`
			Title   string  `json:"title"`
			Minutes float64 `json:"standard_min"`
		} `json:"build"`
		Short      []string `json:"short"`
		Operations []struct {
			ID   int64  `json:"id"`
			Name string `json:"name"`
		} `json:"operations"`
		Cutting []struct {
			WidthMM     float64 `json:"width_mm"`
			ThicknessMM float64 `json:"thickness_mm"`
			Boards      int     `json:"boards_used"`
			Note        string  `json:"note"`
		} `json:"cutting"`
	}
	payment struct {
		Payment struct {
			ID     int64  `json:"id"`
			Number string `json:"number"`
		} `json:"payment"`
		Balance int64 `json:"balance_minor"`
	}
)

func (w *walker) say(format string, args ...any) { fmt.Fprintf(w.Out, format+"\n", args...) }

// send makes one request; in and out may be nil. What is not asked for by version has 0.
func (w *walker) send(method, path string, version int, in, out any) {
	ok(w.sendErr(method, path, version, in, out))
}

func (w *walker) sendErr(method, path string, version int, in, out any) error {
	body, err := w.ask(method, path, version, in)
	if err != nil || out == nil {
		return err
	}
	if err := json.Unmarshal(body, out); err != nil {
		return fmt.Errorf("%s %s: %w", method, path, err)
	}
	return nil
}

func (w *walker) ask(method, path string, version int, in any) ([]byte, error) {
	var body io.Reader
	if in != nil {
		text, err := json.Marshal(in)
		if err != nil {
			return nil, err
		}
		body = bytes.NewReader(text)
	}
	r, err := http.NewRequestWithContext(w.ctx, method, w.URL+"/api/v1"+path, body)
	if err != nil {
		return nil, err
	}
	r.Header.Set("Authorization", "Bearer "+w.Token)
	if in != nil {
		r.Header.Set("Content-Type", "application/json")
	}
	if version != 0 {
		r.Header.Set("If-Match", fmt.Sprintf(`"%d"`, version))
	}
	w.requests++
	if method == http.MethodPost {
		r.Header.Set("Idempotency-Key", fmt.Sprintf("walk-%d-%d", w.run, w.requests))
	}
	res, err := w.client.Do(r)
	if err != nil {
		return nil, err
	}
	defer res.Body.Close()
	text, err := io.ReadAll(res.Body)
	if err == nil && res.StatusCode >= 400 {
		err = fmt.Errorf("%s %s: %s: %s", method, path, res.Status, bytes.TrimSpace(text))
	}
	return text, err
}

// paper fetches a paper and keeps it under a name that says which it is.
func (w *walker) paper(name, path string) {
	body, err := w.ask(http.MethodGet, path, 0, nil)
	ok(err)
	w.papers++
	if w.Papers == "" {
		return
	}
	file := filepath.Join(w.Papers, strings.ReplaceAll(strings.ReplaceAll(name, "/", "-"), " ", "-"))
	ok(os.WriteFile(file, body, 0o644))
	w.say("  paper: %s", file)
}

// money writes minor units of a currency with two decimals.
func money(minor int64) string { return fmt.Sprintf("%d.%02d", minor/100, minor%100) }

// find gives the id of the record with a code in a list.
func (w *walker) find(path, code string) named {
	var list page[named]
	w.send(http.MethodGet, path, 0, nil, &list)
	for _, n := range list.Items {
		if n.Code == code {
			return n
		}
	}
	panic(trouble{fmt.Errorf("%s has no %q: is this the book of the demo?", path, code)})
}
