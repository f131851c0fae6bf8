// A photo, made small here: what its file tells of place and device does not leave the phone.
const PHOTO_PX = 1280;
let photo = null;
let photoMade = Promise.resolve();
const tellPhoto = () => { $('photo-words').textContent = photo ? say('photo-goes', { size: Math.ceil(photo.size / 1000) }) : ''; };
const makePhoto = async () => {
  const [file] = $('photo').files;
  clearFaults($('photo').parentElement);
  photo = null;
  if (file) {
    try {
      const picture = await createImageBitmap(file, { imageOrientation: 'from-image' });
      const scale = Math.min(1, PHOTO_PX / Math.max(picture.width, picture.height));
      const canvas = document.createElement('canvas');
      [canvas.width, canvas.height] = [picture.width, picture.height].map((side) => Math.max(1, Math.round(side * scale)));
      canvas.getContext('2d').drawImage(picture, 0, 0, canvas.width, canvas.height);
      photo = await new Promise((resolve) => canvas.toBlob(resolve, 'image/jpeg', 0.8));
    } catch { photo = null; }
    if (!photo) { $('photo').value = ''; fault('photo', say('photo-unread')); }
  }
  tellPhoto();
};
const noPhoto = () => { photo = null; $('photo').value = ''; tellPhoto(); };
