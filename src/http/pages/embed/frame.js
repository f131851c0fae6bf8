// Tells the page around the frame how high it would like to be.
'use strict';
if (parent !== self) {
  const tell = () => parent.postMessage({ subimago_height: document.documentElement.getBoundingClientRect().height }, '*');
  new ResizeObserver(tell).observe(document.documentElement);
  addEventListener('message', (event) => { if (event.source === parent) tell(); });
}
