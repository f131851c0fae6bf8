// What the service refused, in the page's words: by the code of a fault, or by the kind of the problem. For what has none
// the service's own words follow, which are English.
const CODES = {
  unknown_slug: 'refusal-unknown', in_the_future: 'end-in-future', no_such_code: 'refusal-code', changed: 'changed-meanwhile',
  unauthenticated: 'refusal-token', forbidden: 'refusal-water', conflict: 'refusal-stored', 'idempotency-key-reused': 'refusal-stored',
  'not-found': 'refusal-gone', 'too-many-requests': 'refusal-wait',
  'unsupported-media-type': 'photo-kind', damaged: 'photo-damaged', too_large: 'photo-large', 'too-large': 'photo-large',
};
const kindOf = ({ type, detail }) => ({ code: String(type).split('/').pop(), detail });
const spoken = ({ code, detail }) => (CODES[code] ? [say(CODES[code])] : [say('refusal-other'), detail]);
// As parts of the page, with the English marked.
const parts = ([text, english]) => {
  if (!english) return [text];
  const words = document.createElement('span');
  words.lang = 'en';
  words.textContent = english;
  return [text ? `${text} ` : '', words];
};
// The field that a pointer means; `number` gives that of an insect.
const FIELDS = { started_at: 'from', ended_at: 'to', water_c: 'water', looked_for: 'only', abundance_class: 'class', wing_pads: 'class', length_mm: 'length', described: 'colour', behaviour: 'did' };
const fieldOf = (pointer, number) => {
  const path = (pointer || '').split('/').slice(1);
  const name = path[path.length - 1];
  return path[0] === 'sightings' ? `${FIELDS[name] || name}-${number(path[1])}` : FIELDS[path[0]] || path[0] || '';
};
const labelOf = (pointer) => {
  const id = CSS.escape(fieldOf(pointer, () => 'N'));
  const found = form && id && [document, $('insect').content].map((part) => part.querySelector(`label[for="${id}"], #${id} > legend`)).find(Boolean);
  return found ? found.textContent : '';
};
