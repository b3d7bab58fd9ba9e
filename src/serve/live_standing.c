/* The list of alarms that stand, moved by news and by pictures in whichever order they come. States and arrows:
 * live_standing.h. Guarded by live.c's mutex. */
#include "serve/live_standing.h"
#include "base/error.h"
#include "base/node.h"
#include "serve/request.h"
#include <string.h>

enum stage { TOLD, SEEN, ENDED };

struct one {
  char *name, *action, *says, *at;
  ew_message *message;
  enum stage stage;
};

struct ew_live_standing {
  GPtrArray *all; /* struct one*, in the order of their trips */
};

static void one_free(gpointer data) {
  struct one *o = data;
  g_free(o->name);
  g_free(o->action);
  g_free(o->says);
  ew_message_free(o->message);
  g_free(o->at);
  g_free(o);
}

struct ew_live_standing *ew_live_standing_new(void) {
  struct ew_live_standing *s = g_new0(struct ew_live_standing, 1);
  s->all = g_ptr_array_new_with_free_func(one_free);
  return s;
}

void ew_live_standing_free(struct ew_live_standing *s) {
  g_ptr_array_unref(s->all);
  g_free(s);
}

/* An alarm stands once, by its name; `ended`: a session has just ended, and all of it is what was left. */
static void check_standing(const struct ew_live_standing *s, gboolean ended) {
  for (guint i = 0; i < s->all->len; i++) {
    const struct one *o = g_ptr_array_index(s->all, i);
    g_assert(o->name && (!ended || o->stage == ENDED));
    for (guint k = 0; k < i; k++)
      g_assert(strcmp(((struct one *)g_ptr_array_index(s->all, k))->name, o->name) != 0);
  }
}

static guint remove_where(struct ew_live_standing *s,
                          gboolean (*is)(const struct one *, gconstpointer), gconstpointer what) {
  guint before = s->all->len;
  for (guint i = s->all->len; i-- > 0;)
    if (is(g_ptr_array_index(s->all, i), what))
      g_ptr_array_remove_index(s->all, i);
  return before - s->all->len;
}

static gboolean is_named(const struct one *o, gconstpointer name) {
  return strcmp(o->name, name) == 0;
}

static gboolean is_not_ended(const struct one *o, gconstpointer nothing) {
  (void)nothing;
  return o->stage != ENDED;
}

static gboolean is_ended_and_named(const struct one *o, gconstpointer name) {
  return o->stage == ENDED && (strcmp(name, "all") == 0 || strcmp(o->name, name) == 0);
}

/* A picture that does not know the alarm (its channel has gone, or the table is another one) says nothing of it. */
static gboolean is_cleared(const struct one *o, gconstpointer bands) {
  return o->stage == SEEN && ew_live_bands_latched(bands, o->name) == EW_LATCHED_NO;
}

static void add(struct ew_live_standing *s, const char *name, const struct ew_node *news,
                const ew_message *message) {
  struct one *o = g_new0(struct one, 1);
  o->name = g_strdup(name);
  o->action = g_strdup(ew_node_text(news, "action"));
  o->says = g_strdup(ew_node_text(news, "says"));
  o->at = g_strdup(ew_node_text(news, "at"));
  o->message = message ? ew_message_copy(message) : NULL;
  remove_where(s, is_named, name);
  g_ptr_array_add(s->all, o);
  check_standing(s, FALSE);
}

void ew_live_standing_hear(struct ew_live_standing *s, const char *json,
                           const ew_message *message) {
  g_autoptr(ew_node) news = ew_node_parse("news", json, strlen(json), NULL); /* JSON is YAML, too */
  const char *name = news ? ew_node_text(news, "name") : NULL;
  const char *action = news ? ew_node_text(news, "action") : NULL;
  if (name)
    add(s, name, news, message);
  else if (g_strcmp0(action, "clear") == 0 && g_strcmp0(ew_node_text(news, "standing"), "0") == 0)
    remove_where(s, is_not_ended, NULL);
}

void ew_live_standing_look(struct ew_live_standing *s, const struct ew_live_bands *bands) {
  for (guint i = 0; i < s->all->len; i++) {
    struct one *o = g_ptr_array_index(s->all, i);
    if (o->stage == TOLD && ew_live_bands_latched(bands, o->name) == EW_LATCHED_YES)
      o->stage = SEEN;
  }
  remove_where(s, is_cleared, bands);
}

void ew_live_standing_end(struct ew_live_standing *s) {
  for (guint i = 0; i < s->all->len; i++)
    ((struct one *)g_ptr_array_index(s->all, i))->stage = ENDED;
  check_standing(s, TRUE);
}

guint ew_live_standing_clear_ended(struct ew_live_standing *s, const char *name) {
  return remove_where(s, is_ended_and_named, name);
}

void ew_live_standing_write_json(const struct ew_live_standing *s, struct ew_json *json) {
  ew_json_open_array(json, "standing");
  for (guint i = 0; i < s->all->len; i++) {
    const struct one *o = g_ptr_array_index(s->all, i);
    g_autofree char *text = o->message ? ew_message_text(o->message, EW_UNITS_SI) : NULL;
    ew_json_open(json, NULL);
    ew_json_text(json, "name", o->name);
    ew_json_text(json, "action", o->action);
    ew_json_text(json, "says", o->says);
    ew_json_text(json, "text", text);
    ew_json_text(json, "at", o->at);
    ew_json_boolean(json, "ended", o->stage == ENDED);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}
