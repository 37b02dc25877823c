package paper

import (
	"flag"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

var papersDir = flag.String("papers", "", "write every paper to this folder, to be looked at")

// all draws every kind of paper from the full fixtures.
var all = map[string]func() ([]byte, error){
	"quote":      func() ([]byte, error) { return Quote(testQuote()) },
	"order":      func() ([]byte, error) { return Order(testOrder()) },
	"invoice":    func() ([]byte, error) { return Invoice(testInvoice()) },
	"receipt":    func() ([]byte, error) { return Receipt(testReceipt()) },
	"jobcard":    func() ([]byte, error) { return JobCard(testJobCard()) },
	"sawing":     func() ([]byte, error) { return Sawing(testSawing()) },
	"boxlabels":  func() ([]byte, error) { return BoxLabels(testBoxLabels()) },
	"partlabels": func() ([]byte, error) { return PartLabels(testPartLabels()) },
	"run":        func() ([]byte, error) { return Run(testRun()) },
	"site":       func() ([]byte, error) { return Site(testSite()) },
	"register":   func() ([]byte, error) { return Register(testRegister()) },
	"movements":  func() ([]byte, error) { return Movements(testMovements()) },
	"handover":   func() ([]byte, error) { return Handover(testHandover()) },
}

func TestSamePaperSameBytes(t *testing.T) {
	t.Parallel()
	for name, draw := range all {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			one, err := draw()
			require.NoError(t, err)
			two, err := draw()
			require.NoError(t, err)
			require.Equal(t, string(one), string(two))
			if *papersDir != "" {
				require.NoError(t, os.WriteFile(filepath.Join(*papersDir, name+".pdf"), one, 0o600))
			}
		})
	}
}
