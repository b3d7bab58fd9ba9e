/* Replies: JSON or bytes, with the headers that keep a browser careful. */
#include "serve/assets.h"
#include "serve/http_parts.h"

static void header(struct MHD_Response *response, const char *name, const char *value) {
  MHD_add_response_header(response, name, value);
}

void ew_http_add_headers(struct MHD_Response *response, const struct ew_reply *r) {
  header(response, "Content-Type", r->type ? r->type : "application/json; charset=utf-8");
  header(response, "Content-Security-Policy",
         r->policy  ? r->policy
         : r->inert ? "default-src 'none'; sandbox; frame-ancestors 'none'"
                    : EW_PAGE_POLICY(""));
  header(response, "X-Content-Type-Options", "nosniff");
  header(response, "X-Frame-Options", "DENY");
  header(response, "Referrer-Policy", "no-referrer");
  header(response, "Cross-Origin-Resource-Policy", "same-origin");
  header(response, "Cross-Origin-Opener-Policy", "same-origin");
  header(response, "Cache-Control", r->keep ? "no-cache" : "no-store");
  if (r->etag)
    header(response, "ETag", r->etag);
  if (r->gzipped)
    header(response, "Content-Encoding", "gzip");
  if (r->keep)
    header(response, "Vary", "Accept-Encoding");
  if (r->cookie)
    header(response, "Set-Cookie", r->cookie);
  if (r->download) {
    g_autofree char *value = g_strdup_printf("attachment; filename=\"%s\"", r->download);
    header(response, "Content-Disposition", value);
  }
}

static void free_bytes(void *bytes) {
  g_bytes_unref(bytes);
}

enum MHD_Result ew_http_send(struct MHD_Connection *connection, struct ew_reply *r) {
  if (!r->bytes)
    r->bytes = r->json.text ? g_string_free_to_bytes(r->json.text) : g_bytes_new(NULL, 0);
  r->json.text = NULL;
  gsize size;
  const void *data = g_bytes_get_data(r->bytes, &size);
  struct MHD_Response *response = MHD_create_response_from_buffer_with_free_callback_cls(
      size, (void *)(gsize)data, free_bytes, g_bytes_ref(r->bytes));
  ew_http_add_headers(response, r);
  enum MHD_Result done = MHD_queue_response(connection, r->status ? r->status : 200, response);
  MHD_destroy_response(response);
  return done;
}

void ew_http_write_refusal(struct ew_reply *reply, guint status, const char *why) {
  *reply = (struct ew_reply){.status = status, .json = {.text = g_string_new(NULL)}};
  ew_json_open(&reply->json, NULL);
  ew_json_text(&reply->json, "error", ew_tr(why));
  ew_json_text(&reply->json, "remedy", NULL);
  ew_json_text(&reply->json, "field", NULL);
  ew_json_close(&reply->json);
}

enum MHD_Result ew_http_refuse(struct MHD_Connection *connection, guint status, const char *why) {
  struct ew_reply reply;
  ew_http_write_refusal(&reply, status, why);
  enum MHD_Result done = ew_http_send(connection, &reply);
  ew_reply_clear(&reply);
  return done;
}
