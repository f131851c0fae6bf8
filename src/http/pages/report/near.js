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
  const found = (key, given) => { $('near-words').textContent = say(key, given); };
  found('near-looking');
  navigator.geolocation.getCurrentPosition(async ({ coords }) => {
    const places = (await setting(`places ${here.water}`) || [])
      .filter(({ slug }) => [...$('reach').options].some((option) => option.value === slug))
      .map((place) => ({ ...place, km: apartKm(coords, place) })).sort((a, b) => a.km - b.km);
    if (!places.length) { found('near-no-places'); return; }
    const [first] = places;
    const name = [...$('reach').options].find((option) => option.value === first.slug).textContent;
    if (first.km > FAR_KM) { found('near-far', { reach: name, km: Math.round(first.km) }); return; }
    $('reach').value = first.slug;
    const away = first.km < 1 ? `${Math.ceil(first.km * 10) * 100} m` : `${Math.round(first.km)} km`;
    const rough = coords.accuracy > 1000;
    found(rough ? 'near-rough' : 'near-found', { reach: name, away, km: Math.round(coords.accuracy / 1000) });
  }, () => found('near-none'), { enableHighAccuracy: true, timeout: 20000 });
};
