(async () => {
	const out = [];
	const result = await axe.run(document, {resultTypes: ['violations']});
	for (const v of result.violations) {
		out.push('axe ' + v.id + ': ' + v.help + ' — ' + v.nodes.slice(0, 3).map(n => n.html.slice(0, 140)).join(' | '));
	}
	const wide = document.documentElement.scrollWidth - document.documentElement.clientWidth;
	if (wide > 1) {
		const beyond = [...document.querySelectorAll('body *')].filter(e => e.getBoundingClientRect().right > document.documentElement.clientWidth + 1 && !e.closest('.wide'));
		out.push('wider than the screen by ' + wide + ' px: ' + beyond.slice(0, 3).map(e => e.outerHTML.slice(0, 120)).join(' | '));
	}
	if (window.innerWidth < 500) {
		for (const e of document.querySelectorAll('button, summary, input:not([type=hidden]), select, textarea, nav a, table a, .more a, a.main, .reach a')) {
			if (e.offsetParent === null && !e.closest('.reach')) continue;
			const target = (e.type === 'checkbox' || e.type === 'radio') ? (e.closest('label') || e) : e;
			const r = target.getBoundingClientRect();
			if (r.width === 0 || r.height === 0) continue;
			if (r.height < 44) out.push('target only ' + Math.round(r.height) + ' px high: ' + e.outerHTML.slice(0, 120));
		}
	}
	return out;
})()
