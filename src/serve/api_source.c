/* A source put together on the page of this machine: its kinds and their fields, its address from what was typed with every fault beside
 * its field, and rows of a bus from a file that somebody has.
 *
 * The rows go into a file of this machine (base/machine.h) that is named by what is in it: an address that names it means the same bus as
 * long as it is kept, and another page never writes over it. What was put together without fault is named here (serve/sources.h), so that it
 * can be begun, also by a far device. */
#include "base/error.h"
#include "base/machine.h"
#include "book/store.h"
#include "cell/source_form.h"
#include "cell/source_here.h"
#include "serve/service.h"
#include "serve/sources.h"
#include <string.h>

#define MAP_BYTES 262144u

static gboolean only_here(const struct ew_request *r, struct ew_reply *reply, GError **error) {
  if (r->from_here)
    return TRUE;
  reply->status = 403;
  return ew_refuse(error, "sources are put together on the machine that serves the page");
}

gboolean ew_api_source_kinds(struct ew_service *s, const struct ew_request *r,
                             struct ew_reply *reply, GError **error) {
  static const char *const lists[] = {"registers", "signals", "topics"};
  const struct ew_source_form *form;
  (void)s;
  (void)r;
  (void)error;
  ew_json_open_array(&reply->json, "kinds");
  for (guint i = 0; (form = ew_source_form_at(i)); i++)
    ew_service_write_fields(form->key, form->says, &form->table, &reply->json);
  ew_json_close_array(&reply->json);
  ew_json_open(&reply->json, "rows_of");
  for (guint i = 0; (form = ew_source_form_at(i)); i++)
    if (form->rows)
      ew_json_text(&reply->json, form->key, form->rows);
  ew_json_close(&reply->json);
  ew_json_open_array(&reply->json, "rows");
  for (gsize i = 0; i < G_N_ELEMENTS(lists); i++)
    ew_service_write_fields(lists[i], lists[i], ew_bus_map_fields(lists[i]), &reply->json);
  ew_json_close_array(&reply->json);
  return TRUE;
}

static const struct ew_source_form *form_of(const struct ew_node *body, GError **error) {
  const char *key = ew_node_text(body, "kind");
  const struct ew_source_form *form = ew_source_form_of(key);
  if (!form)
    ew_refuse(error, "kind: '%.40s' is not a kind of source", key ? key : "");
  return form;
}

/* Named by its content: the first 24 digits of its digest. */
static char *map_name(const char *text) {
  g_autofree char *digest = g_compute_checksum_for_string(G_CHECKSUM_SHA256, text, -1);
  return g_strdup_printf("bus-%.24s.yaml", digest);
}

static gboolean keep_map(const char *name, const char *text, GError **error) {
  g_autofree char *kept = NULL;
  if (!ew_machine_read(name, &kept, error))
    return FALSE;
  return g_strcmp0(kept, text) == 0 || ew_machine_write(name, text, error);
}

static void write_faults(const GPtrArray *faults, struct ew_json *json) {
  ew_json_open_array(json, "faults");
  for (guint i = 0; i < faults->len; i++) {
    const struct ew_source_fault *fault = faults->pdata[i];
    ew_json_open(json, NULL);
    ew_json_text(json, "field", fault->field);
    ew_json_text(json, "says", fault->says);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

/* A recording that is not in this book is said beside its number. */
static void find_recording(struct ew_service *s, const char *url, GPtrArray *faults) {
  const char *hash = strrchr(url, '#');
  struct ew_recording_row row = {0};
  g_autoptr(GError) problem = NULL;
  if (ew_recording_get(s->book, g_ascii_strtoll(hash + 1, NULL, 10), &row, &problem)) {
    ew_recording_row_clear(&row);
    return;
  }
  ew_source_faults_add(faults, "recording", problem->message);
}

/* With the map's place in it, which only its content tells: worked out twice for a bus. */
static char *put_together(struct ew_service *s, const struct ew_source_form *form,
                          const struct ew_node *body, GPtrArray *faults, GError **error) {
  const struct ew_node *typed = ew_node_member(body, "typed"), *rows = ew_node_member(body, "rows");
  const char *book = ew_book_path(s->book);
  g_autofree char *url = ew_source_form_url(form, typed, rows, "", book, faults);
  if (!url || !strstr(url, "?map="))
    return g_steal_pointer(&url);
  g_autofree char *map = ew_source_form_map(form, rows), *name = map_name(map);
  g_autofree char *path = ew_machine_path(name);
  if (!keep_map(name, map, error))
    return NULL;
  return ew_source_form_url(form, typed, rows, path, book, faults);
}

gboolean ew_api_source_put(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                           GError **error) {
  g_autoptr(ew_node) body = only_here(r, reply, error) ? ew_request_json(r, error) : NULL;
  const struct ew_source_form *form = body ? form_of(body, error) : NULL;
  g_autoptr(GPtrArray) faults = ew_source_faults_new();
  g_autoptr(GError) problem = NULL;
  g_autofree char *url = form ? put_together(s, form, body, faults, &problem) : NULL;
  if (problem)
    g_propagate_error(error, g_steal_pointer(&problem));
  if (!form || (error && *error))
    return FALSE;
  if (url && g_str_has_prefix(url, "replay:"))
    find_recording(s, url, faults);
  else if (url)
    ew_source_here(form, ew_node_member(body, "typed"), faults);
  if (faults->len == 0)
    ew_sources_name(s->sources, url);
  ew_json_text(&reply->json, "url", faults->len == 0 ? url : NULL);
  write_faults(faults, &reply->json);
  return TRUE;
}

gboolean ew_api_source_map(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                           GError **error) {
  (void)s;
  g_autoptr(ew_node) body = only_here(r, reply, error) ? ew_request_json(r, error) : NULL;
  const struct ew_source_form *form = body ? form_of(body, error) : NULL;
  const char *text = body ? ew_node_text(body, "text") : NULL;
  if (!form)
    return FALSE;
  if (!form->rows)
    return ew_refuse(error, "kind: %s has no channels to be listed", form->key);
  if (!text || strlen(text) > MAP_BYTES)
    return ew_refuse(error, "text: give a list of channels of up to %u bytes", MAP_BYTES);
  ew_json_open_array(&reply->json, "rows");
  gboolean good = ew_source_form_rows(form, text, &reply->json, error);
  ew_json_close_array(&reply->json);
  return good;
}
