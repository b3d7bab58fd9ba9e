/* What each change is in an engine's file: see the header. A figure that the file does not give is not invented: without timing
 * there is no advance to change, without a chamber or a stated ratio no ratio. */
#include "desk/variation_file.h"
#include "base/error.h"
#include "base/yaml_keep.h"
#include "engine/compression.h"
#include <math.h>
#include <string.h>

/* The chamber, or each of them, by as much as the clearance volume has to change; else the stated ratio. */
static gboolean change_ratio(struct ew_engine *e, const struct ew_variation *v, GError **error) {
  struct ew_engine_compression *c = &e->compression;
  double swept = ew_swept_volume_m3(e), stated = c->ratio_stated;
  if (isnan(c->chamber_m3) && !c->chambers) {
    if (isnan(stated))
      return ew_refuse(error, "change '%s': the engine's file gives neither chambers nor a ratio",
                       v->text);
    c->ratio_stated = ew_adjusted(v->change, stated);
    return TRUE;
  }
  for (int i = 0; i < e->cylinders; i++) {
    double now = ew_clearance_volume_m3(e, (guint)i), ratio = ew_compression_ratio(e, (guint)i);
    double step = swept / (ew_adjusted(v->change, ratio) - 1) - now;
    if (!isfinite(step))
      return ew_refuse(error, "change '%s': the ratio of cylinder %d is not known", v->text, i + 1);
    if (c->chambers)
      g_array_index(c->chambers, double, i) += step;
    else if (i == 0) {
      c->chamber_m3 += step;
      break;
    }
  }
  if (!isnan(stated))
    c->ratio_stated = ew_compression_ratio(e, 0);
  if (!isnan(c->ratio_wanted)) /* it is wanted otherwise now */
    c->ratio_wanted = ew_compression_ratio(e, 0);
  return TRUE;
}

static gboolean change_timing(struct ew_engine *e, const struct ew_variation *v, const char *name,
                              GError **error) {
  struct ew_cam_timing t = {NAN, NAN, NAN, NAN};
  ew_cam_timing_of(e, &t);
  double inlet = t.inlet_centreline_deg, exhaust = t.exhaust_centreline_deg;
  if (isnan(inlet) || isnan(exhaust))
    return ew_refuse(error, "change '%s': the engine's file does not say how the cams are timed",
                     v->text);
  if (strcmp(name, "cam_advance") == 0) {
    double earlier = ew_adjusted(v->change, 0);
    inlet -= earlier;
    exhaust += earlier;
  } else if (strcmp(name, "inlet_centreline") == 0)
    inlet = ew_adjusted(v->change, inlet);
  else
    exhaust = ew_adjusted(v->change, exhaust);
  e->cam.inlet_centreline_deg = inlet;
  e->cam.exhaust_centreline_deg = exhaust;
  e->cam.lobe_separation_deg = (inlet + exhaust) / 2;
  if (!isnan(e->cam.advance_deg))
    e->cam.advance_deg = (exhaust - inlet) / 2;
  return TRUE;
}

static gboolean change_one(struct ew_engine *e, const struct ew_variation *v, GError **error) {
  struct ew_varying at = {.engine = e, .spark_deg = NAN};
  if (ew_variation_of_engine(v))
    return ew_vary(&at, v, FALSE, NULL, error);
  const char *name = ew_variation_names[v->what];
  if (strcmp(name, "compression") == 0)
    return change_ratio(e, v, error);
  if (strcmp(name, "lambda") == 0) {
    e->lambda_target = ew_adjusted(v->change, e->lambda_target);
    return TRUE;
  }
  if (strcmp(name, "cam_advance") == 0 || g_str_has_suffix(name, "_centreline"))
    return change_timing(e, v, name, error);
  return ew_refuse(error, "change '%s': an engine's file does not say it", v->text);
}

gboolean ew_vary_engine(struct ew_engine *engine, const GArray *variations, GError **error) {
  struct ew_engine changed;
  ew_engine_copy(engine, &changed);
  gboolean good = TRUE;
  for (guint i = 0; good && i < variations->len; i++)
    good = change_one(&changed, &g_array_index(variations, struct ew_variation, i), error);
  good = good && ew_engine_agrees(&changed, "the changed engine", error);
  if (!good) {
    ew_engine_clear(&changed);
    return FALSE;
  }
  ew_engine_clear(engine);
  *engine = changed;
  return TRUE;
}

/* ---- written ---- */

static struct ew_node *copy_of(const struct ew_node *n) {
  struct ew_node *copy = g_memdup2(n, sizeof *n);
  copy->key = g_strdup(n->key);
  copy->text = g_strdup(n->text);
  if (n->children) {
    copy->children = g_ptr_array_new_with_free_func((GDestroyNotify)ew_node_free);
    for (guint i = 0; i < n->children->len; i++)
      g_ptr_array_add(copy->children, copy_of(g_ptr_array_index(n->children, i)));
  }
  return copy;
}

#define DIGITS "%.7g" /* beyond what any bench can tell */

/* "44.0 cc": where the unit begins; NULL: a word, or a figure without a unit. */
static const char *unit_in(const char *text) {
  char *end = NULL;
  g_ascii_strtod(text ? text : "", &end);
  return end && end != text && g_str_has_prefix(end, " ") ? end + 1 : NULL;
}

/* A figure that changed, as people write it: in the unit that the file has there (an offset from another zero, as of gauges, is the reader's
 * matter), else in the usual one. */
static void word(struct ew_node *now, const struct ew_node *own) {
  const char *inside = now->kind == EW_NODE_SCALAR ? unit_in(now->text) : NULL,
             *said = own && own->kind == EW_NODE_SCALAR ? unit_in(own->text) : NULL;
  struct ew_unit si, given;
  if (!inside || !ew_unit_recognise(inside, &si) || si.scale != 1 || si.offset != 0)
    return;
  double value = g_ascii_strtod(now->text, NULL);
  if (said && ew_unit_recognise(said, &given) && given.offset == 0 && given.scale > 0 &&
      strcmp(ew_kind_si(given.kind), ew_kind_si(si.kind)) == 0)
    value /= given.scale;
  else {
    said = ew_kind_shown(si.kind, EW_UNITS_SI);
    value = ew_shown(si.kind, EW_UNITS_SI, value);
  }
  char digits[G_ASCII_DTOSTR_BUF_SIZE];
  char *text =
      g_strdup_printf("%s %s", g_ascii_formatd(digits, sizeof digits, DIGITS, value), said);
  g_free(now->text);
  now->text = text;
}

static void word_all(struct ew_node *now, const struct ew_node *own) {
  if (now->kind == EW_NODE_SCALAR)
    word(now, own);
  for (guint i = 0; now->kind == EW_NODE_LIST && i < now->children->len; i++)
    word(g_ptr_array_index(now->children, i),
         own && own->kind == EW_NODE_LIST && i < own->children->len
             ? g_ptr_array_index(own->children, i)
             : NULL);
}

/* What did not change stays as the file says it, in its own units and figures; what the file left out stays out. `before`: the file's engine,
 * written as `wanted` is; said: the file, NULL where it has no such group. */
static void keep_words(struct ew_node *wanted, const struct ew_node *before,
                       const struct ew_node *said) {
  for (guint i = wanted->children->len; i-- > 0;) {
    struct ew_node *now = g_ptr_array_index(wanted->children, i);
    const struct ew_node *was = ew_node_member(before, now->key);
    const struct ew_node *own = said ? ew_node_member(said, now->key) : NULL;
    if (!was) {
      word_all(now, own);
      continue;
    }
    if (now->kind == EW_NODE_MAP && was->kind == EW_NODE_MAP) {
      keep_words(now, was, own && own->kind == EW_NODE_MAP ? own : NULL);
      if (now->children->len == 0)
        g_ptr_array_remove_index(wanted->children, i);
    } else if (ew_node_equal(now, was)) {
      if (own)
        g_ptr_array_insert(wanted->children, (gint)i + 1, copy_of(own));
      g_ptr_array_remove_index(wanted->children, i);
    } else
      word_all(now, own);
  }
}

/* An engine as its file would be written from nothing. */
static struct ew_node *written(const struct ew_engine *engine, GError **error) {
  g_autofree char *plain = ew_engine_write_yaml(engine);
  return ew_node_parse("engine", plain, strlen(plain), error);
}

struct ew_node *ew_engine_reworded(const struct ew_node *said, const struct ew_engine *engine,
                                   GError **error) {
  struct ew_engine own;
  if (!ew_engine_read(said, "engine", &own, error))
    return NULL;
  g_autoptr(ew_node) before = written(&own, error);
  g_autoptr(ew_node) wanted = written(engine, error);
  ew_engine_clear(&own);
  if (!before || !wanted)
    return NULL;
  keep_words(wanted, before, said);
  return g_steal_pointer(&wanted);
}

char *ew_engine_rewrite(const char *text, const struct ew_engine *engine, GError **error) {
  g_autoptr(ew_node) said = ew_node_parse("engine", text, strlen(text), error);
  g_autoptr(ew_node) wanted = said ? ew_engine_reworded(said, engine, error) : NULL;
  return wanted ? ew_yaml_keep(text, wanted) : NULL;
}
