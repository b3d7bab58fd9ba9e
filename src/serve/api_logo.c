/* The shop's logo: shown, and put in place of the one before. It is taken away by settings {"logo": ""}. */
#include "base/error.h"
#include "book/keep.h"
#include "book/media.h"
#include "serve/service.h"
#include <string.h>

#define LOGO_BYTES ((gsize)1 << 20)

/* By its bytes: a book from elsewhere may hold anything there. */
static gboolean is_logo(const guchar *data, gsize size) {
  return size > 0 && size <= LOGO_BYTES && strcmp(ew_media_of(data, size), "image/png") == 0;
}

gboolean ew_service_has_logo(struct ew_service *s) {
  g_autofree char *text = NULL;
  gsize size;
  if (!ew_setting_get(s->book, "logo", &text, NULL) || !text)
    return FALSE;
  g_autofree guchar *data = g_base64_decode(text, &size);
  return is_logo(data, size);
}

gboolean ew_api_logo(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                     GError **error) {
  (void)r;
  g_autofree char *text = NULL;
  gsize size = 0;
  if (!ew_setting_get(s->book, "logo", &text, error))
    return FALSE;
  g_autofree guchar *data = text ? g_base64_decode(text, &size) : NULL;
  if (!data || !is_logo(data, size)) {
    reply->status = 404;
    return ew_refuse(error, "the book has no logo");
  }
  reply->bytes = g_bytes_new_take(g_steal_pointer(&data), size);
  reply->inert = TRUE;
  reply->type = "image/png";
  return TRUE;
}

gboolean ew_api_logo_put(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                         GError **error) {
  gsize size;
  const guchar *data = g_bytes_get_data(r->body, &size);
  if (!is_logo(data, size))
    return ew_refuse(error, "logo: give a PNG picture of up to 1 MB");
  g_autofree char *text = g_base64_encode(data, size);
  if (!ew_keep_setting(s->book, "logo", text, error))
    return FALSE;
  reply->changed = TRUE;
  return TRUE;
}
