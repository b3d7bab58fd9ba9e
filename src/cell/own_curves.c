/* Sums by speed bin of each watched thing, one set a pull, the last twelve pulls kept. A figure needs two pulls with
 * like oil temperature (one for "the last pull"); otherwise it is NaN, never a guess. O(pulls) a look-up, of which
 * there are at most twelve. */
#include "cell/own_curves.h"
#include "base/json_writer.h"
#include "base/node.h"
#include <math.h>
#include <string.h>

struct bins {
  double sum[EW_OWN_BINS], squares[EW_OWN_BINS], count[EW_OWN_BINS];
};

struct pull {
  double oil_k;
  GHashTable *watches; /* char* -> struct bins* */
};

struct ew_own_curves {
  GPtrArray *pulls; /* struct pull*, oldest first */
  struct pull *now;
};

static struct pull *pull_new(void) {
  struct pull *pull = g_new0(struct pull, 1);
  pull->watches = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
  return pull;
}

static void pull_free(struct pull *pull) {
  g_hash_table_unref(pull->watches);
  g_free(pull);
}

struct ew_own_curves *ew_own_curves_new(void) {
  struct ew_own_curves *own = g_new0(struct ew_own_curves, 1);
  own->pulls = g_ptr_array_new_with_free_func((GDestroyNotify)pull_free);
  own->now = pull_new();
  return own;
}

void ew_own_curves_free(struct ew_own_curves *own) {
  if (!own)
    return;
  g_ptr_array_unref(own->pulls);
  pull_free(own->now);
  g_free(own);
}

static struct bins *bins_of(struct pull *pull, const char *watch) {
  struct bins *bins = g_hash_table_lookup(pull->watches, watch);
  if (!bins) {
    bins = g_new0(struct bins, 1);
    g_hash_table_insert(pull->watches, g_strdup(watch), bins);
  }
  return bins;
}

void ew_own_curves_take(struct ew_own_curves *own, const char *watch, double speed_rpm,
                        double value) {
  if (isnan(value) || !(speed_rpm >= 0) || !(speed_rpm < EW_OWN_BINS * EW_OWN_BIN_RPM))
    return;
  int bin = (int)(speed_rpm / EW_OWN_BIN_RPM);
  g_assert(bin >= 0 && bin < EW_OWN_BINS);
  struct bins *bins = bins_of(own->now, watch);
  bins->sum[bin] += value;
  bins->squares[bin] += value * value;
  bins->count[bin]++;
}

static void keep(struct ew_own_curves *own, struct pull *pull) {
  g_ptr_array_add(own->pulls, pull);
  if (own->pulls->len > EW_OWN_PULLS)
    g_ptr_array_remove_index(own->pulls, 0);
  g_assert(own->pulls->len > 0 && own->pulls->len <= EW_OWN_PULLS);
}

void ew_own_curves_end(struct ew_own_curves *own, double oil_k, gboolean sound) {
  own->now->oil_k = oil_k;
  if (sound && g_hash_table_size(own->now->watches))
    keep(own, own->now);
  else
    pull_free(own->now);
  own->now = pull_new();
}

/* Between the middles of two neighbouring bins; one alone where the other is empty. */
static gboolean at(const struct bins *b, double speed_rpm, double *mean, double *scatter) {
  double place = speed_rpm / EW_OWN_BIN_RPM - 0.5, sum = 0, spread = 0, weights = 0;
  if (!(place >= -1 && place <= EW_OWN_BINS)) /* no speed, or one of no bin */
    return FALSE;
  int low = (int)floor(place);
  for (int i = low; i <= low + 1; i++) {
    if (i < 0 || i >= EW_OWN_BINS || b->count[i] < 1)
      continue;
    double weight = fmax(1 - fabs(place - i), 1e-6), m = b->sum[i] / b->count[i];
    sum += weight * m;
    spread += weight * sqrt(fmax(b->squares[i] / b->count[i] - m * m, 0));
    weights += weight;
  }
  if (weights < 1e-3)
    return FALSE;
  *mean = sum / weights;
  *scatter = spread / weights;
  return TRUE;
}

static gboolean like(const struct pull *pull, double oil_k) {
  return isnan(oil_k) || isnan(pull->oil_k) || fabs(pull->oil_k - oil_k) <= EW_OWN_LIKE_K;
}

void ew_own_curves_at(const struct ew_own_curves *own, const char *watch, double speed_rpm,
                      double oil_k, gboolean last, double *mean, double *scatter) {
  double sum = 0, spread = 0, m, s;
  guint count = 0;
  *mean = *scatter = NAN;
  for (guint i = own->pulls->len; i-- > 0 && !(last && count);) {
    const struct pull *pull = g_ptr_array_index(own->pulls, i);
    const struct bins *bins = g_hash_table_lookup(pull->watches, watch);
    if (!bins || !like(pull, oil_k) || !at(bins, speed_rpm, &m, &s))
      continue;
    sum += m;
    spread += s;
    count++;
  }
  if (count < (last ? 1 : EW_OWN_LEAST))
    return;
  *mean = sum / count;
  *scatter = spread / count;
}

struct ew_own_curves *ew_own_curves_copy(const struct ew_own_curves *own) {
  struct ew_own_curves *copy = ew_own_curves_new();
  for (guint i = 0; i < own->pulls->len; i++) {
    const struct pull *from = g_ptr_array_index(own->pulls, i);
    struct pull *to = pull_new();
    GHashTableIter walk;
    gpointer watch, bins;
    to->oil_k = from->oil_k;
    g_hash_table_iter_init(&walk, from->watches);
    while (g_hash_table_iter_next(&walk, &watch, &bins))
      *bins_of(to, watch) = *(struct bins *)bins;
    keep(copy, to);
  }
  return copy;
}

guint ew_own_curves_pulls(const struct ew_own_curves *own) {
  return own->pulls->len;
}

char *ew_own_curves_to_json(const struct ew_own_curves *own) {
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open_array(&json, NULL);
  for (guint i = 0; i < own->pulls->len; i++) {
    const struct pull *pull = g_ptr_array_index(own->pulls, i);
    GHashTableIter walk;
    gpointer watch, bins;
    ew_json_open(&json, NULL);
    ew_json_number(&json, "oil_k", pull->oil_k);
    ew_json_open_array(&json, "watches");
    g_hash_table_iter_init(&walk, pull->watches);
    while (g_hash_table_iter_next(&walk, &watch, &bins)) {
      ew_json_open(&json, NULL);
      ew_json_text(&json, "watch", watch);
      ew_json_numbers(&json, "sum", ((struct bins *)bins)->sum, EW_OWN_BINS);
      ew_json_numbers(&json, "squares", ((struct bins *)bins)->squares, EW_OWN_BINS);
      ew_json_numbers(&json, "count", ((struct bins *)bins)->count, EW_OWN_BINS);
      ew_json_close(&json);
    }
    ew_json_close_array(&json);
    ew_json_close(&json);
  }
  ew_json_close_array(&json);
  return g_string_free(json.text, FALSE);
}

static gboolean read_bins(const struct ew_node *node, const char *key, double *into) {
  const struct ew_node *list = ew_node_member(node, key);
  if (!list || list->kind != EW_NODE_LIST || list->children->len != EW_OWN_BINS)
    return FALSE;
  for (guint i = 0; i < EW_OWN_BINS; i++) {
    const struct ew_node *one = g_ptr_array_index(list->children, i);
    into[i] = one->text ? g_ascii_strtod(one->text, NULL) : 0;
  }
  return TRUE;
}

static struct pull *read_pull(const struct ew_node *node) {
  const struct ew_node *oil = ew_node_member(node, "oil_k"),
                       *watches = ew_node_member(node, "watches");
  if (!oil || !watches || watches->kind != EW_NODE_LIST)
    return NULL;
  struct pull *pull = pull_new();
  pull->oil_k = oil->text && strcmp(oil->text, "null") ? g_ascii_strtod(oil->text, NULL) : NAN;
  for (guint i = 0; i < watches->children->len; i++) {
    const struct ew_node *one = g_ptr_array_index(watches->children, i),
                         *name = ew_node_member(one, "watch");
    struct bins *bins = name && name->text ? bins_of(pull, name->text) : NULL;
    if (!bins || !read_bins(one, "sum", bins->sum) || !read_bins(one, "squares", bins->squares) ||
        !read_bins(one, "count", bins->count)) {
      pull_free(pull);
      return NULL;
    }
  }
  return pull;
}

gboolean ew_own_curves_from_json(struct ew_own_curves *own, const char *json) {
  g_autoptr(ew_node) root = ew_node_parse("own curves", json, strlen(json), NULL);
  if (!root || root->kind != EW_NODE_LIST)
    return FALSE;
  for (guint i = 0; i < root->children->len; i++) {
    struct pull *pull = read_pull(g_ptr_array_index(root->children, i));
    if (!pull)
      return FALSE;
    keep(own, pull);
  }
  return TRUE;
}
