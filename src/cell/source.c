/* Chooses a source's class by the scheme of its URL and passes calls on. A kind is one line in source_kinds.h;
 * nothing here knows what any of them does. */
#include "cell/source.h"
#include "base/error.h"
#include "cell/source_kinds.h"
#include <math.h>
#include <string.h>

const char *const ew_source_event_names[] = {
#define X(name, says, bad) says,
    EW_SOURCE_EVENTS(X)
#undef X
};

static const struct ew_source_class *const classes[] = {
#define X(kind) &ew_source_class_##kind,
    EW_SOURCE_KINDS(X)
#undef X
        NULL};

double ew_monotonic_s(void) {
  static gsize begun;
  static gint64 origin;
  if (g_once_init_enter(&begun)) {
    origin = g_get_monotonic_time();
    g_once_init_leave(&begun, 1);
  }
  return (double)(g_get_monotonic_time() - origin) / 1e6;
}

struct ew_source *ew_source_open(const char *url, GError **error) {
  for (int i = 0; classes[i]; i++) {
    const struct ew_source_class *class = classes[i];
    gsize size = strlen(class->scheme);
    if (strncmp(url, class->scheme, size) != 0 || url[size] != ':')
      continue;
    struct ew_source *source = class->open(url + size + 1, error);
    if (!source) {
      g_prefix_error(error, "%s: ", url);
      return NULL;
    }
    source->class = class;
    source->url = g_strdup(url);
    return source;
  }
  g_autoptr(GString) forms = g_string_new(NULL);
  for (int i = 0; classes[i]; i++)
    g_string_append_printf(forms, "%s%s", i ? ", " : "", classes[i]->form);
  ew_refuse(error, "source '%s' is not of a known kind: write one of %s", url, forms->str);
  return NULL;
}

void ew_source_read(struct ew_source *source, const struct ew_source_sink *sink, double now_s) {
  if (!source->ended)
    source->class->read(source, sink, now_s);
}

gboolean ew_source_send(struct ew_source *source, const char *line) {
  return source->class->send && source->class->send(source, line);
}

gboolean ew_source_takes_requests(const struct ew_source *source) {
  g_autofree char *control = ew_url_option(source->url, "control");
  if (!source->class->send)
    return FALSE;
  return g_str_has_prefix(source->url, "practice:") || (control && strcmp(control, "yes") == 0);
}

void ew_source_close(struct ew_source *source) {
  if (!source)
    return;
  g_autofree char *url =
      source->url; /* a thread of the source may still read it until it is joined */
  source->class->close(source);
}

char *ew_url_option(const char *rest, const char *key) {
  const char *query = strchr(rest, '?');
  if (!query)
    return NULL;
  g_auto(GStrv) parts = g_strsplit(query + 1, "&", 64);
  for (int i = 0; parts[i]; i++) {
    char *equals = strchr(parts[i], '=');
    if (!equals)
      continue;
    *equals = 0;
    if (strcmp(parts[i], key) == 0)
      return g_uri_unescape_string(equals + 1, NULL);
  }
  return NULL;
}

EW_MESSAGE_PUBLIC(ew_source_error, "cell.error", EW_CAUTION, "{error}");

void ew_source_tell(const struct ew_source_sink *sink, enum ew_source_event event,
                    ew_message *given) {
  g_autoptr(ew_message) what = given;
  if (sink->event)
    sink->event(sink->user, event, what);
}

gboolean ew_url_number(const char *rest, const char *key, double otherwise, double low, double high,
                       double *value, GError **error) {
  g_autofree char *text = ew_url_option(rest, key);
  *value = otherwise;
  if (!text)
    return TRUE;
  char *end;
  *value = g_ascii_strtod(text, &end);
  if (end == text || *end || !(*value >= low && *value <= high))
    return ew_refuse(error, "%s=%s: write a number from %g to %g", key, text, low, high);
  return TRUE;
}
