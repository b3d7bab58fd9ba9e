/* Two lists of source addresses: given at the start, and kept in a file of this machine, the newest first. What
 * isn't in them, nor the plain practice cell, no far device may open. */
#include "serve/sources.h"
#include "base/machine.h"
#include "base/plain.h"
#include <string.h>
#include <unistd.h>

#define KEPT_FILE "sources"
#define KEPT_MOST 32u
#define URL_MOST  400

static const char *const always[] = {"practice:", "practice:?rate=100"};

struct ew_sources {
  GMutex mutex;
  GPtrArray *list; /* char*, the last named first */
};

static int place_of(const GPtrArray *list, const char *url) {
  for (guint i = 0; i < list->len; i++)
    if (strcmp(list->pdata[i], url) == 0)
      return (int)i;
  return -1;
}

static void put_first(GPtrArray *list, const char *url) {
  int at = place_of(list, url);
  if (at >= 0)
    g_ptr_array_remove_index(list, (guint)at);
  g_ptr_array_insert(list, 0, g_strdup(url));
  if (list->len > KEPT_MOST)
    g_ptr_array_set_size(list, KEPT_MOST);
  g_assert(list->len > 0 && list->len <= KEPT_MOST && strcmp(list->pdata[0], url) == 0);
}

/* What the file says, the last first. */
static void read_kept(GPtrArray *list) {
  g_autofree char *text = NULL;
  if (!ew_machine_read(KEPT_FILE, &text, NULL) || !text)
    return;
  g_auto(GStrv) lines = g_strsplit(text, "\n", KEPT_MOST + 1);
  for (int i = 0; lines[i] && list->len < KEPT_MOST; i++)
    if (*lines[i] && ew_plain_is(lines[i]) && place_of(list, lines[i]) < 0)
      g_ptr_array_add(list, g_strdup(lines[i]));
}

struct ew_sources *ew_sources_new(const char *const *given) {
  struct ew_sources *sources = g_new0(struct ew_sources, 1);
  g_mutex_init(&sources->mutex);
  sources->list = g_ptr_array_new_with_free_func(g_free);
  read_kept(sources->list);
  for (int i = 0; given && given[i]; i++)
    put_first(sources->list, given[i]);
  return sources;
}

void ew_sources_free(struct ew_sources *sources) {
  g_ptr_array_unref(sources->list);
  g_mutex_clear(&sources->mutex);
  g_free(sources);
}

gboolean ew_sources_knows(struct ew_sources *sources, const char *url) {
  for (gsize i = 0; i < G_N_ELEMENTS(always); i++)
    if (strcmp(always[i], url) == 0)
      return TRUE;
  g_mutex_lock(&sources->mutex);
  gboolean knows = place_of(sources->list, url) >= 0;
  g_mutex_unlock(&sources->mutex);
  return knows;
}

/* Another server of this account may have kept one meanwhile. */
static void keep(const char *url) {
  int lock = ew_machine_lock(KEPT_FILE ".lock", NULL);
  if (lock < 0)
    return;
  g_autoptr(GPtrArray) list = g_ptr_array_new_with_free_func(g_free);
  GString *text = g_string_new(NULL);
  read_kept(list);
  put_first(list, url);
  for (guint i = 0; i < list->len; i++)
    g_string_append_printf(text, "%s\n", (char *)list->pdata[i]);
  ew_machine_write(KEPT_FILE, text->str, NULL);
  g_string_free(text, TRUE);
  close(lock);
}

gboolean ew_source_is_plain(const char *url) {
  static const char *const forms[] = {"practice:", "tcp://", "udp://", "serial:/dev/"};
  for (gsize i = 0; i < G_N_ELEMENTS(forms); i++)
    if (g_str_has_prefix(url, forms[i]))
      return strlen(url) < URL_MOST && !strstr(url, "..") && ew_plain_is(url);
  return FALSE;
}

void ew_sources_name(struct ew_sources *sources, const char *url) {
  if (g_str_has_prefix(url, "practice:") || g_str_has_prefix(url, "replay:"))
    return; /* an invented day of any pace, and a day played again, are for the person here alone */
  g_mutex_lock(&sources->mutex);
  gboolean known = place_of(sources->list, url) == 0;
  put_first(sources->list, url);
  g_mutex_unlock(&sources->mutex);
  if (!known)
    keep(url);
}

void ew_sources_write_json(struct ew_sources *sources, struct ew_json *json) {
  ew_json_open_array(json, "named");
  for (gsize i = 0; i < G_N_ELEMENTS(always); i++)
    ew_json_text(json, NULL, always[i]);
  g_mutex_lock(&sources->mutex);
  for (guint i = 0; i < sources->list->len; i++)
    ew_json_text(json, NULL, sources->list->pdata[i]);
  g_mutex_unlock(&sources->mutex);
  ew_json_close_array(json);
}
