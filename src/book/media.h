/* What a file is, told by its bytes and never by its name. */
#pragma once
#include <glib.h>

/* A static media type: image/jpeg, image/png or image/webp only when the picture's frame was walked and
 * is sound; application/pdf; text/plain for valid UTF-8; else application/octet-stream. Markup is
 * text/plain, vector pictures too: nothing that could run is ever named as what it is. */
const char *ew_media_of(const guint8 *data, gsize size);
gboolean
ew_media_is_picture(const char *media); /* may be shown; everything else is only handed out */
/* The picture without what a camera wrote beside it (place, owner, serial numbers), for whoever it is sent
 * to; how it is turned is kept. Other bytes come back as they are. Unref the result. */
GBytes *ew_media_plain(GBytes *bytes);
