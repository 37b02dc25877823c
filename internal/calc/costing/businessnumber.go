package costing

import (
	"context"
	"strings"

	"kerfbook/internal/calc/contract"
)

// BusinessNumberIn is an Australian Business Number as somebody typed it.
type BusinessNumberIn struct {
	ABN string `json:"abn" need:"yes"`
}

// BusinessNumberOut says whether the number can be one.
type BusinessNumberOut struct {
	Valid   bool   `json:"valid"`
	Written string `json:"written"` // in groups, as on a tax invoice; empty when not valid
	Company string `json:"company"` // the company number in its last nine digits; empty when there is none
	Reason  string `json:"reason"`  // what is wrong with it; empty when valid
}

var (
	abnWeights = [11]int{10, 1, 3, 5, 7, 9, 11, 13, 15, 17, 19}
	acnWeights = [8]int{8, 7, 6, 5, 4, 3, 2, 1}
)

const (
	abnModulus   = 89
	mostABNTyped = 100
)

// BusinessNumber tells whether the digits of an ABN check: one is taken from the
// first digit, and the weighted sum must divide by 89. Blanks between digits are
// passed over. It does not tell whether the number was ever given to anybody.
// Text over 100 characters is an error. Source: Australian Business Register, from
// memory; checked against published numbers.
func BusinessNumber(_ context.Context, in BusinessNumberIn) (BusinessNumberOut, error) {
	if len(in.ABN) > mostABNTyped {
		return BusinessNumberOut{}, contract.Bad("/abn", "has more than %d characters", mostABNTyped)
	}
	n := strings.ReplaceAll(strings.TrimSpace(in.ABN), " ", "")
	switch {
	case !digits(n):
		return BusinessNumberOut{Reason: "an ABN has digits and blanks only"}, nil
	case len(n) != len(abnWeights):
		return BusinessNumberOut{Reason: "an ABN has eleven digits"}, nil
	case n[0] == '0':
		return BusinessNumberOut{Reason: "an ABN does not begin with 0"}, nil
	}
	sum := -abnWeights[0]
	for i, w := range abnWeights {
		sum += w * int(n[i]-'0')
	}
	if sum%abnModulus != 0 {
		return BusinessNumberOut{Reason: "the digits do not check: look for a wrong or swapped one"}, nil
	}
	out := BusinessNumberOut{Valid: true, Written: n[:2] + " " + n[2:5] + " " + n[5:8] + " " + n[8:]}
	if CompanyNumberValid(n[2:]) {
		out.Company = n[2:5] + " " + n[5:8] + " " + n[8:]
	}
	return out, nil
}

// CompanyNumberValid tells whether nine digits check as an Australian Company
// Number: weights 8 to 1, the last digit makes the sum up to a ten. Source:
// Australian Securities and Investments Commission, as in python-stdnum.
func CompanyNumberValid(acn string) bool {
	if len(acn) != len(acnWeights)+1 || !digits(acn) {
		return false
	}
	sum := int(acn[8] - '0')
	for i, w := range acnWeights {
		sum += w * int(acn[i]-'0')
	}
	return sum%10 == 0
}
