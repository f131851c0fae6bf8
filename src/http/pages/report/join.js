// From a join code to a token of one's own.
const join = async () => {
  clearFaults($('token-box'));
  const code = value('code');
  const name = value('name');
  if (!code) fault('code', say('code-needed'));
  if (!name) fault('name', say('name-needed'));
  if (toFirstFault()) return;
  // The same wish again after a lost answer has the same id, so that it costs no second use of the code.
  const key = `join ${here.water}`;
  const before = await setting(key);
  const wish = before && before.code === code && before.name === name ? before : { id: uuid(), code, name };
  await set(key, wish);
  $('join').disabled = true;
  let answer = null;
  let body = null;
  try {
    answer = await fetch('/v1/join', {
      method: 'POST', body: JSON.stringify(wish), redirect: 'error', credentials: 'omit', cache: 'no-store', headers: { 'Content-Type': 'application/json' },
    });
    body = await answer.json();
  } catch {
    body = null;
  }
  $('join').disabled = false;
  if (!body || (answer.status !== 201 && body.status !== answer.status)) fault('code', say('no-answer'));
  else if (answer.status === 201 && TOKEN.test(body.secret)) {
    // The code may be of another water than the form.
    const water = body.watersheds[0];
    await set(`token ${water}`, body.secret);
    await set(`refused ${water}`, undefined);
    await set(key, undefined);
    $('code').value = '';
    if (water === here.water) $('token').value = body.secret;
    $('token-box').open = false;
    tell(`${say('welcome', { name: body.name })}${water === here.water ? '' : ` ${say('welcome-other', { water })}`}`);
    $('phone-title').focus();
    await set(`sent ${water}`, undefined);
    await wake();
    await ask();
    return;
  } else {
    if (answer.status === 409) await set(key, undefined);
    const told = (body.errors || []).filter(({ pointer }) => ['#/code', '#/name'].includes(pointer));
    told.forEach((reason) => fault(reason.pointer.slice(2), ...spoken(reason)));
    if (!told.length) fault('code', ...(answer.status === 409 ? [say('join-again')] : spoken(kindOf(body))));
  }
  toFirstFault();
};
