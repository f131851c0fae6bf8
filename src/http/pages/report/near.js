// The reach nearest to where the phone is. The position stays here: it is neither sent nor kept.
const FAR_KM = 25;
const keepPlaces = async () => {
  const answer = await fetch(`/v1/watersheds/${here.water}/reaches?limit=500`, { credentials: 'omit' }).catch(() => null);
  const body = answer && answer.ok && await answer.json().catch(() => null);
  if (body && body.items) await set(`places ${here.water}`, body.items.map(({ slug, latitude, longitude }) => ({ slug, latitude, longitude })));
};
// On a sphere, near enough for a valley.
const apartKm = (a, b) => {
  const turn = (((b.longitude - a.longitude + 540) % 360) - 180) * Math.cos(((a.latitude + b.latitude) * Math.PI) / 360);
  return 111.2 * Math.hypot(b.latitude - a.latitude, turn);
};
const near = () => {
  const say = (text) => { $('near-words').textContent = text; };
  say('Looking for your position …');
  navigator.geolocation.getCurrentPosition(async ({ coords }) => {
    const places = (await setting(`places ${here.water}`) || [])
      .filter(({ slug }) => [...$('reach').options].some((option) => option.value === slug))
      .map((place) => ({ ...place, km: apartKm(coords, place) })).sort((a, b) => a.km - b.km);
    if (!places.length) { say('Where the reaches lie is not on this phone yet: open this page once with signal.'); return; }
    const [first] = places;
    const name = [...$('reach').options].find((option) => option.value === first.slug).textContent;
    if (first.km > FAR_KM) { say(`The nearest, ${name}, is ${Math.round(first.km)} km away. Choose the reach yourself.`); return; }
    $('reach').value = first.slug;
    const rough = coords.accuracy > 1000 ? ` Your position is known to ${Math.round(coords.accuracy / 1000)} km only.` : '';
    say(`Nearest: ${name}, some ${first.km < 1 ? `${Math.ceil(first.km * 10) * 100} m` : `${Math.round(first.km)} km`} away.${rough} Change it if that is wrong.`);
  }, () => say('This phone tells no position. Choose the reach yourself.'), { enableHighAccuracy: true, timeout: 20000 });
};
