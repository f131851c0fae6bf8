// What was sent with this phone's token, as the keepers left it; kept, so that it can be answered without signal.
const STATES = { new: 'state-new', accepted: 'state-accepted', needs_info: 'state-needs-info', rejected: 'state-rejected' };
const nameOf = (select, value) => { const option = [...select.options].find((one) => one.value === value); return option ? option.textContent : value; };
const ask = async () => {
  const token = form && await setting(`token ${here.water}`);
  if (token) {
    const answer = await fetch('/v1/reports?limit=50', { headers: { Authorization: `Bearer ${token}` }, credentials: 'omit', cache: 'no-store', redirect: 'error' }).catch(() => null);
    const body = answer && answer.ok && await answer.json().catch(() => null);
    if (body && body.items) await set(`sent ${here.water}`, body.items.filter(({ report }) => report.watershed === here.water));
  }
  await showSent();
};
const showSent = async () => {
  if (!form) return;
  const all = (await setting(`token ${here.water}`) && await setting(`sent ${here.water}`)) || [];
  const open = all.filter(({ report }) => ['needs_info', 'rejected'].includes(report.state));
  // Those that ask for something first, then those that wait for a keeper, then the newest few.
  const unread = all.filter(({ report }) => report.state === 'new');
  const told = [...open, ...unread, ...all.filter((one) => ![...open, ...unread].includes(one)).slice(0, 5)];
  const waiting = (await kept()).map((item) => item.id);
  $('sent').hidden = told.length === 0;
  $('asked').hidden = open.length === 0;
  $('asked').firstElementChild.textContent = say(open.length === 1 ? 'asked-one' : 'asked-other', { count: open.length });
  $('sent-list').replaceChildren(...told.map(({ report, reason, entity_tag: tag }) => {
    const line = document.createElement('li');
    const asked = open.some((one) => one.report.id === report.id);
    line.append(`${inWords(report)}\n`);
    const state = document.createElement(asked ? 'strong' : 'span');
    state.textContent = say(STATES[report.state], { reason: reason || say('no-reason') });
    line.append(state);
    if (asked && waiting.includes(report.id)) line.append(`\n${say('answer-waits')}`);
    else if (asked) {
      const row = document.createElement('p');
      row.className = 'buttons';
      row.append(button(say('change'), () => edit({ id: report.id, report, reasons: [], change: tag })));
      line.append(row);
    }
    return line;
  }));
};
// Whether what is stored says what was sent.
const says = (stored, report) => ['reach', 'people', 'water_c', 'note', 'sightings', 'looked_for', 'started_at', 'ended_at'].every((name) => {
  const plain = (one) => JSON.stringify(name.endsWith('_at') ? Date.parse(one[name]) : one[name]);
  return plain(stored) === plain(report);
});
