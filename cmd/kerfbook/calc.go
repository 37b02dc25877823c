package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"sync/atomic"
	"time"

	"kerfbook/internal/calc/contract"
	"kerfbook/internal/calc/topics"
	"kerfbook/internal/door"
	"kerfbook/internal/fault"
)

type calcCmd struct {
	Topic   string `arg:"" optional:"" help:"What to calculate; without it the topics are listed."`
	Example bool   `help:"Print an input that works."`
	Quiet   bool   `help:"Say nothing of how far a long calculation is."`
}

// Run calculates: input on standard input, the answer on standard output; bad input is a
// problem object on standard error, and exit code 2. A calculation that takes longer than
// a second says there how far it is; told to stop (Ctrl-C) it gives the best it has.
func (c calcCmd) Run(ctx context.Context, s streams) error {
	if c.Topic == "" {
		for _, t := range topics.All() {
			fmt.Fprintf(s.out, "%-16s %s\n", t.Name, t.Summary)
		}
		return nil
	}
	topic, ok := topics.Find(c.Topic)
	if !ok {
		return refuse(s.err, fault.New(fault.NotFound, "There is no calculation called %s. kerfbook calc lists them.", c.Topic))
	}
	if c.Example {
		_, err := fmt.Fprintln(s.out, topic.Example)
		return err
	}
	raw, err := io.ReadAll(io.LimitReader(s.in, contract.MaxInput+1))
	if err != nil {
		return err
	}
	if topic.Long && !c.Quiet {
		far := newFarLines(s.err)
		defer far.end()
		ctx = contract.WithWatch(ctx, far.tell)
	}
	answer, err := topic.Run(ctx, raw)
	if err != nil {
		return refuse(s.err, err)
	}
	body, err := json.MarshalIndent(answer, "", "  ")
	if err != nil {
		return err
	}
	_, err = s.out.Write(append(body, '\n'))
	return err
}

// refuse writes the problem of bad input; our own mistakes go on as they are.
func refuse(w io.Writer, err error) error {
	p := door.ProblemOf(err)
	if p.Status >= 500 {
		return err
	}
	body, encErr := json.MarshalIndent(p, "", "  ")
	if encErr != nil {
		return encErr
	}
	if _, err := fmt.Fprintf(w, "%s\n", body); err != nil {
		return err
	}
	return exitError{exitBadInput}
}

// farEvery is the time between two lines of how far a long calculation is, and before the
// first.
const farEvery = time.Second

// farLines writes how far a calculation is, a line each second, on a clock of its own: a
// calculation that is deep in one thing says nothing for a while, and time goes on.
type farLines struct {
	latest atomic.Pointer[contract.Progress]
	stop   chan struct{}
	ended  chan struct{}
}

func newFarLines(w io.Writer) *farLines {
	f := &farLines{stop: make(chan struct{}), ended: make(chan struct{})}
	go f.write(w, time.Now())
	return f
}

func (f *farLines) tell(p contract.Progress) { f.latest.Store(&p) }

// end waits for the last line to be written.
func (f *farLines) end() {
	close(f.stop)
	<-f.ended
}

func (f *farLines) write(w io.Writer, started time.Time) {
	defer close(f.ended)
	tick := time.NewTicker(farEvery)
	defer tick.Stop()
	for {
		select {
		case <-f.stop:
			return
		case now := <-tick.C:
			fmt.Fprintln(w, farLine(now.Sub(started), f.latest.Load()))
		}
	}
}

// farLine is such as "3 s: best 19300 mm, none below 19250".
func farLine(took time.Duration, p *contract.Progress) string {
	line := fmt.Sprintf("%.0f s: ", took.Seconds())
	if p == nil || p.Best == nil {
		return line + "no answer yet"
	}
	line += "best " + plainNumber(*p.Best) + " " + p.Unit
	if p.Bound != nil {
		line += ", none below " + plainNumber(*p.Bound)
	}
	return line + ". Ctrl-C takes the best so far."
}

func plainNumber(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
