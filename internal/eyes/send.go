package eyes

import (
	"encoding/json"
	"fmt"
)

// Send fills the form whose button bears these words and presses it, then waits for the
// next page. Fields are named by the words of their labels; values are as in Fill. Of
// several forms with such a button it takes the first that has every field named, and
// opens the fold it stands in.
func (b *Browser) Send(button string, pairs ...string) *Browser {
	b.tb.Helper()
	b.Type(button, pairs...)
	before := Eval[float64](b, `performance.timeOrigin`)
	Eval[bool](b, `(() => { const e = window.kerfbookButton; e.scrollIntoView({block: 'center'}); setTimeout(() => e.click(), 0); return true })()`)
	b.wait(before, "send "+button)
	return b
}

// Type is Send without the press.
func (b *Browser) Type(button string, pairs ...string) *Browser {
	b.tb.Helper()
	in, err := json.Marshal(append([]string{button}, pairs...))
	if err != nil {
		b.tb.Fatal(err)
	}
	if wrong := Eval[string](b, fmt.Sprintf(typeScript, in)); wrong != "" {
		b.tb.Fatalf("%q on %s (%s): %s\n%s", button, b.Path(), b.Size.Name, wrong, b.Text())
	}
	return b
}

const typeScript = `(() => {
	const [button, ...pairs] = %s;
	const plain = s => (s || '').replace('(needed)', '').replace(/\s+/g, ' ').trim().toLowerCase();
	const called = e => plain(e.getAttribute('aria-label') || [...(e.labels || [])].map(l => l.textContent).join(' '));
	const buttons = [...document.querySelectorAll('button')].filter(e => e.form && (e.offsetParent !== null || e.closest('details:not([open])')) && (plain(e.textContent) === plain(button) || plain(e.getAttribute('aria-label')) === plain(button)));
	if (buttons.length === 0) return 'no form has a button of these words';
	const find = (form, label) => {
		const all = [...form.elements].filter(e => e.type !== 'hidden' && e.tagName !== 'BUTTON');
		return all.find(e => called(e) === plain(label)) || all.find(e => called(e).startsWith(plain(label)));
	};
	let why = '';
	for (const e of buttons) {
		let missing = '';
		for (let i = 0; i < pairs.length && !missing; i += 2) if (!find(e.form, pairs[i])) missing = pairs[i];
		if (missing) { why += 'no field is labelled ' + missing + ' among ' + [...e.form.elements].filter(x => x.type !== 'hidden').map(called).join(' / ') + '; '; continue; }
		for (let d = e.closest('details'); d; d = d.parentElement.closest('details')) d.open = true;
		for (let i = 0; i < pairs.length; i += 2) {
			const f = find(e.form, pairs[i]), value = pairs[i + 1];
			for (let d = f.closest('details'); d; d = d.parentElement.closest('details')) d.open = true;
			if (f.offsetParent === null) return pairs[i] + ' cannot be seen';
			if (f.tagName === 'SELECT') {
				const o = [...f.options].find(o => plain(o.text) === plain(value)) || [...f.options].find(o => value !== '' && plain(o.text).includes(plain(value)));
				if (!o) return 'no choice ' + value + ' among ' + [...f.options].map(o => o.text).join(' / ');
				f.value = o.value;
			} else if (f.type === 'checkbox' || f.type === 'radio') {
				f.checked = value !== 'no';
			} else {
				f.value = value;
			}
			f.dispatchEvent(new Event('input', {bubbles: true}));
			f.dispatchEvent(new Event('change', {bubbles: true}));
		}
		window.kerfbookButton = e;
		return '';
	}
	return why;
})()`
