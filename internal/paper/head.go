package paper

import (
	"strings"
	"time"
)

// Workshop is who the paper comes from. Empty fields are left out.
type Workshop struct {
	Name           string
	Owner          string
	Address        []string
	Phone          string
	Email          string
	BusinessNumber string // as printed, with its word: "ABN 51 824 753 556"
	TaxRegistered  bool   // decides between "Tax invoice" and "Invoice"
	TaxName        string // "GST" when empty
}

func (w Workshop) taxName() string { return first(w.TaxName, "GST") }

// Party is a buyer or another person on a paper. Empty fields are left out.
type Party struct {
	Name           string
	Contact        string // the person, where Name is an organisation
	Address        []string
	Phone          string
	Email          string
	BusinessNumber string
}

func (p Party) lines() []string {
	return some(append(append([]string{p.Name, p.Contact}, p.Address...), p.Phone, p.Email, p.BusinessNumber)...)
}

// Place is where a box will stand or stands.
type Place struct {
	Name    string
	Address []string
	Note    string
}

func (p Place) lines() []string {
	return some(append(append([]string{p.Name}, p.Address...), p.Note)...)
}

// Head is what every paper has: whose it is, its number and its issue date.
type Head struct {
	Workshop Workshop
	Number   string
	// Issued is the date of issue in the workshop's zone. It is printed and is the
	// creation and modification date inside the file.
	Issued time.Time
	// Link is the public address for the QR code; empty: no code is drawn.
	Link string
	// Words is the wording in use; nil is the built-in wording.
	Words *Words `json:"-"`
}

func (h Head) words() *Words {
	if h.Words == nil {
		return builtin()
	}
	return h.Words
}

// Day writes a date the way the papers do: "Thu 12 March 2026"; "" for no date.
func Day(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format("Mon 2 January 2006")
}

// Line is one line of a price table. Amounts arrive formatted.
type Line struct {
	What     string
	Detail   []string // smaller lines below
	Quantity string   // "2", "1.5 h"
	Each     string   // price each, as the table's heading says
	Tax      string   // mark or amount of tax; the column is left out when all are empty
	Amount   string
}

// Total is one line under a price table; Strong ones are ruled and bold.
type Total struct {
	Label  string
	Amount string
	Strong bool
}

// Promise is a promised date for one thing: the box, the colony, a unit.
type Promise struct {
	What string
	When string // "Thu 12 March 2026", "to be confirmed at acceptance"
	Note string
}

// PayWay is a way to pay: "Bank transfer" and how.
type PayWay struct {
	Name   string
	Detail string
}

// Payment is money already received.
type Payment struct {
	On     string
	How    string
	Amount string
}

func first(list ...string) string {
	for _, s := range list {
		if strings.TrimSpace(s) != "" {
			return s
		}
	}
	return ""
}

// some drops the empty strings.
func some(list ...string) []string {
	out := make([]string, 0, len(list))
	for _, s := range list {
		if strings.TrimSpace(s) != "" {
			out = append(out, s)
		}
	}
	return out
}

// join puts the texts that are not empty together.
func join(sep string, list ...string) string { return strings.Join(some(list...), sep) }
