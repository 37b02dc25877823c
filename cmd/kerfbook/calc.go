package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"

	"kerfbook/internal/calc/contract"
	"kerfbook/internal/calc/topics"
	"kerfbook/internal/door"
	"kerfbook/internal/fault"
)

type calcCmd struct {
	Topic   string `arg:"" optional:"" help:"What to calculate; without it the topics are listed."`
	Example bool   `help:"Print an input that works."`
}

// Run calculates: input on standard input, the answer on standard output; bad input is a
// problem object on standard error, and exit code 2.
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
