/* Pairing of devices on the network, and taking their rights away. */
#include "base/error.h"
#include "serve/devices.h"
#include "serve/here.h"
#include "serve/service.h"
#include <qrencode.h>
#include <string.h>

/* The code as a picture: rows of the QR symbol, '1' for a dark module. */
static void write_symbol(struct ew_json *json, const char *text) {
  QRcode *symbol = QRcode_encodeString8bit(text, 0, QR_ECLEVEL_M);
  ew_json_open_array(json, "symbol");
  for (int y = 0; symbol && y < symbol->width; y++) {
    GString *row = g_string_new(NULL);
    for (int x = 0; x < symbol->width; x++)
      g_string_append_c(row, symbol->data[y * symbol->width + x] & 1 ? '1' : '0');
    ew_json_text(json, NULL, row->str);
    g_string_free(row, TRUE);
  }
  ew_json_close_array(json);
  QRcode_free(symbol);
}

static gboolean only_here(const struct ew_service *s, const struct ew_request *r, GError **error) {
  if (!s->lan)
    return ew_refuse_with(error, EW_REMEDY_SERVE_NETWORK, "the network is not served");
  return r->from_here ||
         ew_refuse(error, "devices are paired and revoked on the machine that serves the page");
}

gboolean ew_api_devices(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                        GError **error) {
  if (!only_here(s, r, error))
    return FALSE;
  ew_devices_write_json(s->devices, &reply->json);
  ew_json_texts(&reply->json, "addresses", s->addresses);
  ew_json_texts(&reply->json, "pair_again", s->pair_again);
  return TRUE;
}

gboolean ew_api_device_code(struct ew_service *s, const struct ew_request *r,
                            struct ew_reply *reply, GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  if (!body || !only_here(s, r, error))
    return FALSE;
  enum ew_rights rights;
  if (!ew_rights_find(ew_node_text(body, "rights"), &rights))
    return ew_refuse(error, "rights: give view, write or send");
  g_autofree char *code = ew_devices_code(s->devices, rights);
  ew_json_text(&reply->json, "code", code);
  ew_json_integer(&reply->json, "holds_s", 600);
  ew_json_texts(&reply->json, "addresses", s->addresses);
  if (s->addresses->len) {
    g_autofree char *text =
        g_strdup_printf("%s#/pair?code=%s", (char *)g_ptr_array_index(s->addresses, 0), code);
    write_symbol(&reply->json, text);
  }
  return TRUE;
}

gboolean ew_api_pair(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                     GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  const char *code = body ? ew_node_text(body, "code") : NULL;
  if (!body)
    return FALSE;
  if (!code)
    return ew_refuse(error, "code: give the 8 digits");
  g_autofree char *token =
      ew_devices_pair(s->devices, r->address, code, ew_node_text(body, "name"), error);
  if (!token)
    return FALSE;
  reply->cookie = g_strdup_printf("ew_device=%s; Path=/; Max-Age=31536000; HttpOnly; "
                                  "SameSite=Strict%s",
                                  token, s->tls ? "; Secure" : "");
  return TRUE;
}

/* The link that `serve` printed, exchanged for the cookie of this machine's own browser. A near peer only: the
 * cookie would be of no use to another. */
gboolean ew_api_open(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                     GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  if (!body)
    return FALSE;
  const char *token = r->near ? ew_here_open(s->here, ew_node_text(body, "key")) : NULL;
  if (!token)
    return r->near
               ? ew_refuse(error, "key: this link is from an earlier start, or not complete; open "
                                  "the link that was printed when the page was last started")
               : ew_refuse(error, "key: the link opens the page only on the machine that serves "
                                  "it, in a browser there");
  reply->cookie = g_strdup_printf(EW_HERE_COOKIE "=%s; Path=/; Max-Age=31536000; HttpOnly; "
                                                 "SameSite=Strict%s",
                                  token, s->tls ? "; Secure" : "");
  return TRUE;
}

gboolean ew_api_device_revoke(struct ew_service *s, const struct ew_request *r,
                              struct ew_reply *reply, GError **error) {
  if (!only_here(s, r, error))
    return FALSE;
  reply->reconnect = ew_devices_revoke(s->devices, r->id, error);
  return reply->reconnect;
}
