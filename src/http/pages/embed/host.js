// For the page that shows a frame of this service: gives the frame the height of what it shows.
'use strict';
(() => {
  const LEAST_PX = 120;
  const MOST_PX = 3000;
  const home = `${new URL(document.currentScript.src).origin}/embed/`;
  const frames = () => [...document.querySelectorAll('iframe')].filter((frame) => frame.src.startsWith(home));
  addEventListener('message', (event) => {
    // A sandboxed frame has no origin to go by; the window that speaks is what tells it apart.
    const frame = frames().find((one) => one.contentWindow === event.source);
    const height = event.data && event.data.subimago_height;
    if (!frame || !Number.isFinite(height)) return;
    frame.height = Math.min(Math.max(Math.ceil(height), LEAST_PX), MOST_PX);
  });
  // What spoke before this script was there is asked again.
  frames().forEach((frame) => frame.contentWindow.postMessage('subimago_measure', '*'));
})();
