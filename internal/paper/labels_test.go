package paper

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestLabelsLieOnTheirLabels(t *testing.T) {
	t.Parallel()
	sheet := LabelSheet{PageWidthMM: 210, PageHeightMM: 297, Columns: 3, Rows: 8, LeftMM: 7, TopMM: 12.9, LabelWidthMM: 63.5, LabelHeightMM: 33.9, StepXMM: 66, StepYMM: 33.9, Used: 5}
	d := BoxLabelsDoc{Head: testHead("B-1"), Sheet: sheet}
	for i := range 30 {
		d.Labels = append(d.Labels, BoxLabel{Serial: fmt.Sprintf("S%05d", i), Model: long(2), Timber: long(1), Species: "Tetragonula carbonaria", Made: "2026"})
	}
	pdf, err := BoxLabels(d)
	require.NoError(t, err)
	const pt = 72 / 25.4
	seen := 0
	doc := boxes(t, pdf)
	require.Len(t, doc.Pages, 2, "5 used and 30 new on sheets of 24")
	for n, page := range doc.Pages {
		for _, w := range page.Words {
			col := int((w.X1/pt - sheet.LeftMM) / sheet.StepXMM)
			line := int((w.Y1/pt - sheet.TopMM) / sheet.StepYMM)
			x, y := sheet.LeftMM+float64(col)*sheet.StepXMM, sheet.TopMM+float64(line)*sheet.StepYMM
			require.LessOrEqual(t, w.X2/pt, x+sheet.LabelWidthMM, w.Text)
			require.LessOrEqual(t, w.Y2/pt, y+sheet.LabelHeightMM, w.Text)
			var i int
			if _, err := fmt.Sscanf(w.Text, "S%05d", &i); err == nil {
				require.Equal(t, i+sheet.Used, n*24+line*3+col, "place of label %d", i)
				seen++
			}
		}
	}
	require.Equal(t, 30, seen)
}

func TestLabelCodes(t *testing.T) {
	t.Parallel()
	pdf, err := BoxLabels(testBoxLabels())
	require.NoError(t, err)
	got := codes(t, pdf)
	require.ElementsMatch(t, []string{"https://book.example/b/10427?k=Jw4nq8ZtT0yJ3mV1cQ7sLg", "https://book.example/b/10443?k=Jw4nq8ZtT0yJ3mV1cQ7sLg"}, got)
	text := strings.Join(pages(t, pdf), " ")
	for _, want := range []string{"10427", "10435", "10443", "0491 570 156"} {
		require.Contains(t, text, want)
	}
}

func TestPartLabels(t *testing.T) {
	t.Parallel()
	pdf, err := PartLabels(testPartLabels())
	require.NoError(t, err)
	require.Contains(t, pages(t, pdf)[0], "280 × 90 × 35 mm · 16 pieces")
	empty, err := PartLabels(PartLabelsDoc{Sheet: A4Labels()})
	require.NoError(t, err)
	require.Len(t, boxes(t, empty).Pages, 1)
}

func TestLabelSheetCheck(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name   string
		change func(l *LabelSheet)
		want   string
	}{
		{"good", func(*LabelSheet) {}, ""},
		{"no columns", func(l *LabelSheet) { l.Columns = 0 }, "columns must be 1 to 20"},
		{"too wide", func(l *LabelSheet) { l.Columns = 3 }, "3 columns do not fit across 210 mm"},
		{"too high", func(l *LabelSheet) { l.Rows = 9 }, "9 rows do not fit on 297 mm"},
		{"tiny", func(l *LabelSheet) { l.LabelHeightMM = 5 }, "at least 20 × 12 mm"},
		{"overlap", func(l *LabelSheet) { l.StepXMM = 50 }, "step from label to label"},
		{"negative", func(l *LabelSheet) { l.LeftMM = -1 }, "must not be negative"},
		{"all used", func(l *LabelSheet) { l.Used = 14 }, "used labels must be 0 to 13"},
		{"no page", func(l *LabelSheet) { l.PageWidthMM = 0 }, "the page must be"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			l := A4Labels()
			tt.change(&l)
			err := l.Check()
			if tt.want == "" {
				require.NoError(t, err)
				return
			}
			require.ErrorIs(t, err, ErrLabelSheet)
			require.ErrorContains(t, err, tt.want)
			_, err = PartLabels(PartLabelsDoc{Sheet: l})
			require.ErrorIs(t, err, ErrLabelSheet)
		})
	}
}
