// Package photo makes an uploaded picture safe to keep and to show. Clean reads a JPEG or PNG,
// turns it upright as its camera noted, scales it down, and writes it anew: what comes out is made
// of pixels only. Place, time, camera, comments, colour profiles, hidden second pictures and whatever
// hangs on behind the picture stay behind.
//
// Size and kind are judged from the header before anything is decoded, so a small file that would
// unfold to gigabytes is refused at once. Decoding takes at most MaxMemory beside the upload and the
// result; who lets many people upload limits how many pictures are cleaned at the same time.
//
// Without its colour profile a picture of a wide-gamut camera looks a little paler. A photo here is
// a memory of an item, not a measurement of its colour.
//
// Sources: JPEG by ITU-T T.81, PNG by the W3C recommendation (ISO/IEC 15948), orientation by Exif
// (CIPA DC-008), tag 0x0112; all from memory.
package photo
