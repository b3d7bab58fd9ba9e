/* The page's files out of the program itself, packed once at the first request, with an entity tag from their
 * digest: a browser that has them gets 304. Only names of the table are answered; no path of a disk is ever built. */
#include "serve/assets.h"
#include "page_assets.h"
#include <gio/gio.h>
#include <string.h>

struct asset {
  const char *path, *file, *type;
  GBytes *plain, *packed;
  char *etag, *policy;
};

static struct asset assets[] = {
    {"/", "/page/index.html", "text/html; charset=utf-8", NULL, NULL, NULL, NULL},
    {"/app.js", "/page/app.js", "text/javascript; charset=utf-8", NULL, NULL, NULL, NULL},
    {"/early.js", "/page/early.js", "text/javascript; charset=utf-8", NULL, NULL, NULL, NULL},
    {"/shared.js", "/page/shared.js", "text/javascript; charset=utf-8", NULL, NULL, NULL, NULL},
    {"/more.js", "/page/more.js", "text/javascript; charset=utf-8", NULL, NULL, NULL, NULL},
    {"/app.css", "/page/app.css", "text/css; charset=utf-8", NULL, NULL, NULL, NULL},
    {"/icon.svg", "/page/icon.svg", "image/svg+xml", NULL, NULL, NULL, NULL},
    {"/manifest.json", "/page/manifest.json", "application/manifest+json", NULL, NULL, NULL, NULL},
    {"/offline.js", "/page/offline.js", "text/javascript; charset=utf-8", NULL, NULL, NULL, NULL},
};

static GBytes *pack(GBytes *plain) {
  g_autoptr(GZlibCompressor) gzip = g_zlib_compressor_new(G_ZLIB_COMPRESSOR_FORMAT_GZIP, 9);
  g_autoptr(GOutputStream) memory = g_memory_output_stream_new_resizable();
  g_autoptr(GOutputStream) out = g_converter_output_stream_new(memory, G_CONVERTER(gzip));
  gsize size;
  const void *data = g_bytes_get_data(plain, &size);
  if (!g_output_stream_write_all(out, data, size, NULL, NULL, NULL) ||
      !g_output_stream_close(out, NULL, NULL))
    return NULL;
  return g_memory_output_stream_steal_as_bytes(G_MEMORY_OUTPUT_STREAM(memory));
}

/* The page's policy, with the digest of the one style in it, for the line that is painted before app.css is there (CSP level 3,
 * hash sources); no other runs. */
static char *policy_of(GBytes *html) {
  gsize size;
  const char *text = g_bytes_get_data(html, &size);
  const char *from = g_strstr_len(text, (gssize)size, "<style>");
  const char *to =
      from ? g_strstr_len(from, (gssize)(size - (gsize)(from - text)), "</style>") : NULL;
  if (!to)
    return NULL;
  guint8 digest[32];
  gsize length = sizeof digest;
  g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
  from += strlen("<style>");
  g_checksum_update(sum, (const guchar *)from, to - from);
  g_checksum_get_digest(sum, digest, &length);
  g_autofree char *base64 = g_base64_encode(digest, sizeof digest);
  return g_strdup_printf(EW_PAGE_POLICY(" 'sha256-%s'"), base64);
}

static void load_all(void) {
  g_resources_register(ew_page_get_resource());
  for (gsize i = 0; i < G_N_ELEMENTS(assets); i++) {
    struct asset *a = &assets[i];
    a->plain = g_resources_lookup_data(a->file, G_RESOURCE_LOOKUP_FLAGS_NONE, NULL);
    if (!a->plain)
      continue;
    a->packed = pack(a->plain);
    g_autofree char *sum = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, a->plain);
    a->etag = g_strdup_printf("\"%.16s\"", sum);
    a->policy = policy_of(a->plain);
  }
}

gboolean ew_asset_find(const struct ew_request *request, struct ew_reply *reply) {
  static gsize loaded;
  if (g_once_init_enter(&loaded)) {
    load_all();
    g_once_init_leave(&loaded, 1);
  }
  for (gsize i = 0; i < G_N_ELEMENTS(assets); i++) {
    const struct asset *a = &assets[i];
    if (!a->plain || strcmp(a->path, request->path) != 0)
      continue;
    g_assert(a->etag);
    reply->type = a->type;
    reply->keep = TRUE;
    reply->etag = g_strdup(a->etag);
    reply->policy = a->policy;
    if (request->if_none_match && strcmp(request->if_none_match, a->etag) == 0) {
      reply->status = 304;
      reply->bytes = g_bytes_new(NULL, 0);
      return TRUE;
    }
    reply->gzipped = request->takes_gzip && a->packed;
    reply->bytes = g_bytes_ref(reply->gzipped ? a->packed : a->plain);
    return TRUE;
  }
  return FALSE;
}
