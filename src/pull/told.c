/* Writing and reading of that list; stored by keys, so that both lists may grow. */
#include "pull/told.h"
#include "base/json_writer.h"
#include "base/node.h"
#include <math.h>
#include <string.h>

const char *const ew_told_fact_keys[] = {
#define X(id, key) key,
    EW_TOLD_FACTS(X)
#undef X
};
const char *const ew_told_from_keys[] = {
#define X(id, key) key,
    EW_TOLD_ORIGINS(X)
#undef X
};

static void told_clear(void *data) {
  struct ew_told *one = data;
  g_free(one->at);
  g_free(one->pull);
  g_free(one->amended);
}

GArray *ew_told_new(void) {
  GArray *told = g_array_new(FALSE, TRUE, sizeof(struct ew_told));
  g_array_set_clear_func(told, told_clear);
  return told;
}

void ew_told_add(GArray *told, enum ew_told_fact fact, enum ew_told_from from, const char *at,
                 const char *pull, double age_s, double u) {
  g_assert(fact < EW_TOLD_FACTS_COUNT && from < EW_TOLD_ORIGINS_COUNT);
  struct ew_told one = {fact, from, g_strdup(at), g_strdup(pull), age_s, u, NULL};
  g_array_append_val(told, one);
}

void ew_told_put(GArray *told, struct ew_told one, const char *amended) {
  g_assert(one.fact < EW_TOLD_FACTS_COUNT && one.from < EW_TOLD_ORIGINS_COUNT);
  struct ew_told own = {one.fact,  one.from, g_strdup(one.at), g_strdup(one.pull),
                        one.age_s, one.u,    g_strdup(amended)};
  for (guint i = 0; i < told->len; i++) {
    struct ew_told *there = &g_array_index(told, struct ew_told, i);
    if (there->fact == one.fact) {
      if (!own.amended)
        own.amended = g_strdup(there->amended);
      told_clear(there);
      *there = own;
      return;
    }
  }
  g_array_append_val(told, own);
}

char *ew_told_write(const GArray *told) {
  struct ew_json json = {.text = g_string_new("[")};
  for (guint i = 0; i < told->len; i++) {
    const struct ew_told *one = &g_array_index(told, struct ew_told, i);
    ew_json_open(&json, NULL);
    ew_json_text(&json, "fact", ew_told_fact_keys[one->fact]);
    ew_json_text(&json, "from", ew_told_from_keys[one->from]);
    if (one->at)
      ew_json_text(&json, "at", one->at);
    if (one->pull)
      ew_json_text(&json, "pull", one->pull);
    if (!isnan(one->age_s))
      ew_json_number(&json, "age_s", one->age_s);
    if (!isnan(one->u))
      ew_json_number(&json, "u", one->u);
    if (one->amended)
      ew_json_text(&json, "amended", one->amended);
    ew_json_close(&json);
  }
  g_string_append_c(json.text, ']');
  return g_string_free(json.text, FALSE);
}

static const char *text_of(const ew_node *map, const char *key) {
  const ew_node *node = ew_node_member(map, key);
  return node && node->kind == EW_NODE_SCALAR ? node->text : NULL;
}

static double figure_of(const ew_node *map, const char *key) {
  const char *text = text_of(map, key);
  char *end = NULL;
  double figure = text ? g_ascii_strtod(text, &end) : (double)NAN;
  return end && end != text && !*end && isfinite(figure) ? figure : (double)NAN;
}

static int key_of(const char *const *keys, int count, const char *text) {
  for (int i = 0; text && i < count; i++)
    if (strcmp(keys[i], text) == 0)
      return i;
  return count;
}

GArray *ew_told_read(const char *text) {
  GArray *told = ew_told_new();
  g_autoptr(ew_node) root = text ? ew_node_parse("told", text, strlen(text), NULL) : NULL;
  for (guint i = 0; root && root->kind == EW_NODE_LIST && i < root->children->len; i++) {
    const ew_node *one = root->children->pdata[i];
    if (one->kind != EW_NODE_MAP)
      continue;
    int fact = key_of(ew_told_fact_keys, EW_TOLD_FACTS_COUNT, text_of(one, "fact"));
    int from = key_of(ew_told_from_keys, EW_TOLD_ORIGINS_COUNT, text_of(one, "from"));
    if (fact >= EW_TOLD_FACTS_COUNT || from >= EW_TOLD_ORIGINS_COUNT)
      continue;
    ew_told_add(told, (enum ew_told_fact)fact, (enum ew_told_from)from, text_of(one, "at"),
                text_of(one, "pull"), figure_of(one, "age_s"), figure_of(one, "u"));
    g_array_index(told, struct ew_told, told->len - 1).amended = g_strdup(text_of(one, "amended"));
  }
  return told;
}

const struct ew_told *ew_told_find(const GArray *told, enum ew_told_fact fact) {
  for (guint i = 0; i < told->len; i++)
    if (g_array_index(told, struct ew_told, i).fact == fact)
      return &g_array_index(told, struct ew_told, i);
  return NULL;
}
