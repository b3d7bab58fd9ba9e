/* Build files into the book, and what the book knows about a build: its result on the dyno, growth of lash over all
 * like builds, steps that block. Averages are over like pulls that count, at the last one's speeds. */
#include "desk/build.h"
#include "base/error.h"
#include <gio/gio.h>
#include <math.h>
#include <string.h>

static gboolean read_engine_row(const struct ew_engine_row *row, struct ew_engine *engine,
                                GError **error) {
  g_autoptr(ew_node) root = ew_node_parse(row->name, row->yaml, strlen(row->yaml), error);
  return root && ew_engine_read(root, row->name, engine, error);
}

gboolean ew_bench_build_open(struct ew_book *book, const char *engine, gboolean needed,
                             struct ew_bench_build *bench, GError **error) {
  *bench = (struct ew_bench_build){0};
  struct ew_engine_row row;
  if (!ew_engine_get(book, engine, &row))
    return engine ? ew_refuse(error, "'%s': no such engine in this book", engine)
                  : ew_refuse(error, "there is no engine in this book: 'enginewright engine add'");
  gint64 id = ew_build_current(book, row.id);
  gboolean good = TRUE;
  if (!id && needed)
    good = ew_refuse(error,
                     "'%s' has no build yet: begin with 'enginewright build start' or 'build "
                     "load'",
                     row.name);
  good = good && read_engine_row(&row, &bench->engine, error);
  if (good) {
    bench->build = id ? ew_build_load(book, id, error) : ew_build_new();
    bench->engine_id = row.id;
    bench->engine_name = g_strdup(row.name);
    if (!bench->build) {
      ew_bench_build_clear(bench);
      good = FALSE;
    }
  }
  ew_engine_row_clear(&row);
  return good;
}

void ew_bench_build_clear(struct ew_bench_build *bench) {
  if (bench->engine_name)
    ew_engine_clear(&bench->engine);
  g_clear_pointer(&bench->engine_name, g_free);
  ew_build_free(bench->build);
  bench->build = NULL;
}

const char *ew_build_own_template(const char *which, gsize *size) {
  g_autofree char *path = g_strdup_printf("/build/%s.yaml", which);
  /* resources are part of the program's image: the bytes outlive the handle */
  g_autoptr(GBytes) bytes = g_resources_lookup_data(path, G_RESOURCE_LOOKUP_FLAGS_NONE, NULL);
  return bytes ? g_bytes_get_data(bytes, size) : NULL;
}

gboolean ew_build_take_template(const char *path, const char *own, const struct ew_engine *engine,
                                struct ew_build *into, GError **error) {
  gsize size = 0;
  const char *text = path ? NULL : ew_build_own_template(own, &size);
  if (!path && !text)
    return ew_fail(error, "the program's own %s are missing", own);
  g_autoptr(ew_node) root =
      path ? ew_node_read(path, error) : ew_node_parse(own, text, size, error);
  return root && ew_build_read_template(root, path ? path : own, engine, into, error);
}

gboolean ew_build_keep_all(struct ew_book *book, gint64 build_id, const struct ew_build *fresh,
                           guint *added, guint *there, GError **error) {
  for (int k = 0; k < EW_BUILD_KINDS_COUNT; k++)
    for (guint i = 0; i < fresh->records[k]->len; i++) {
      const struct ew_build_mark *mark = fresh->records[k]->pdata[i];
      gboolean is_new;
      if (mark->id)
        continue;
      if (!ew_build_keep(book, build_id, k, mark, &is_new, error))
        return FALSE;
      *added += is_new;
      *there += !is_new;
    }
  return TRUE;
}

static const char *text_of(const struct ew_node *map, const char *key) {
  const struct ew_node *node = ew_node_member(map, key);
  return node && node->kind == EW_NODE_SCALAR ? node->text : NULL;
}

static char *beside(const char *path, const char *name) {
  g_autofree char *folder = g_path_get_dirname(path);
  return g_path_is_absolute(name) ? g_strdup(name) : g_build_filename(folder, name, NULL);
}

/* The engine a build map names, describes or points to; written into the book where it is new. */
static gint64 settle_engine(struct ew_book *book, const struct ew_node *map, const char *path,
                            struct ew_engine *engine, GError **error) {
  const char *file = text_of(map, "engine_file"), *name = text_of(map, "engine");
  const struct ew_node *inside = ew_node_member(map, "engine");
  struct ew_engine_row row;
  if (name) {
    if (!ew_engine_get(book, name, &row))
      return ew_refuse(error, "%s: engine '%s' is not in this book", path, name);
    gint64 id = read_engine_row(&row, engine, error) ? row.id : 0;
    ew_engine_row_clear(&row);
    return id;
  }
  g_autofree char *place = file ? beside(path, file) : NULL;
  g_autoptr(ew_node) root = place ? ew_node_read(place, error) : NULL;
  if (!file && !inside)
    return ew_refuse(error, "%s: 'engine' or 'engine_file' is missing: which engine is it?", path);
  if ((place && !root) ||
      !ew_engine_read(root ? root : inside, place ? place : path, engine, error))
    return 0;
  g_autofree char *yaml = ew_engine_write_yaml(engine);
  gint64 id = 0;
  if (!engine->name || !*engine->name)
    ew_refuse(error, "%s: the engine has no 'name'", place ? place : path);
  else if (ew_engine_get(book, engine->name, &row)) {
    id = row.id; /* the book's engine stays as it is */
    ew_engine_row_clear(&row);
  } else
    id = ew_engine_add(book, engine->name, yaml, error);
  if (!id)
    ew_engine_clear(engine);
  return id;
}

static gint64 settle_build(struct ew_book *book, gint64 engine_id, const char *name,
                           GError **error) {
  g_autoptr(GArray) rows = ew_build_list(book, engine_id, error);
  for (guint i = rows->len; i-- > 0;) {
    const struct ew_build_row *row = &g_array_index(rows, struct ew_build_row, i);
    if (strcmp(row->name, name) == 0)
      return row->id;
  }
  return ew_build_start(book, engine_id, name, error);
}

static gboolean attach_all(struct ew_book *book, gint64 build_id, const struct ew_node *list,
                           const char *path, GError **error) {
  const struct ew_owner owner = {EW_OWNER_BUILD, build_id, NULL};
  for (guint i = 0; list && i < list->children->len; i++) {
    const struct ew_node *one = list->children->pdata[i];
    const char *file = one->kind == EW_NODE_SCALAR ? one->text : text_of(one, "file");
    if (!file)
      return ew_refuse(error, "%s, line %u: 'attach' is a list of files", path, one->line);
    g_autofree char *place = beside(path, file), *name = g_path_get_basename(file);
    g_autoptr(GBytes) bytes = ew_read_file(place, error);
    if (!bytes || !ew_attachment_add(book, &owner, name, bytes, text_of(one, "note"), NULL, error))
      return FALSE;
  }
  return TRUE;
}

static gboolean take_templates(const struct ew_node *map, const char *path,
                               const struct ew_engine *engine, struct ew_build *build,
                               GError **error) {
  static const char *const keys[] = {"targets", "checklists"};
  for (int k = 0; k < 2; k++) {
    const char *file = text_of(map, keys[k]);
    g_autofree char *place = file ? beside(path, file) : NULL;
    if (file && !ew_build_take_template(place, keys[k], engine, build, error))
      return FALSE;
  }
  return TRUE;
}

static gboolean load_map(struct ew_book *book, const struct ew_node *map, const char *path,
                         struct ew_build_loaded *loaded, GError **error) {
  static const char *const others[] = {"engine",     "engine_file", "targets",
                                       "checklists", "attach",      NULL};
  struct ew_engine engine;
  if (map->kind != EW_NODE_MAP)
    return ew_refuse(error, "%s, line %u: a build is written as 'name: value' lines", path,
                     map->line);
  gint64 engine_id = settle_engine(book, map, path, &engine, error);
  if (!engine_id)
    return FALSE;
  const char *name = text_of(map, "build");
  gint64 id = settle_build(book, engine_id, name ? name : "build", error);
  /* what stands already gives template and checklists to read against */
  g_autoptr(ew_build) build = id ? ew_build_load(book, id, error) : NULL;
  gboolean good = build && take_templates(map, path, &engine, build, error) &&
                  ew_build_read_file(map, path, &engine, others, build, error) &&
                  ew_build_keep_all(book, id, build, &loaded->added, &loaded->there, error) &&
                  attach_all(book, id, ew_node_member(map, "attach"), path, error);
  loaded->builds++;
  ew_engine_clear(&engine);
  return good;
}

gboolean ew_build_load_file(struct ew_book *book, const char *path, struct ew_build_loaded *loaded,
                            GError **error) {
  *loaded = (struct ew_build_loaded){0};
  g_autoptr(ew_node) root = ew_node_read(path, error);
  if (!root || !ew_book_begin(book, error))
    return FALSE;
  const struct ew_node *builds = ew_node_member(root, "builds");
  gboolean good = TRUE;
  if (!builds)
    good = load_map(book, root, path, loaded, error);
  else if (builds->kind != EW_NODE_LIST || root->children->len != 1)
    good = ew_refuse(error, "%s: 'builds' is a list and stands alone", path);
  for (guint i = 0; good && builds && i < builds->children->len; i++)
    good = load_map(book, builds->children->pdata[i], path, loaded, error);
  if (good && ew_book_commit(book, error))
    return TRUE;
  ew_book_rollback(book);
  return FALSE;
}

static gboolean like(const char *a, const char *b) {
  return a && b && g_ascii_strcasecmp(a, b) == 0;
}

static void add_samples(const struct ew_build *build, GArray *samples) {
  g_autoptr(GArray) pairs = ew_lash_pairs(build);
  for (guint i = 0; i < pairs->len; i++) {
    const struct ew_lash_pair *p = &g_array_index(pairs, struct ew_lash_pair, i);
    struct ew_growth_sample sample = {(int)build->id, p->side, p->hot_m - p->cold_m,
                                      p->since_stop_s, p->head_temperature_k};
    g_array_append_val(samples, sample);
  }
}

struct ew_growth ew_build_growth(struct ew_book *book, const struct ew_build_facts *facts,
                                 gint64 without, int side, GPtrArray **from) {
  g_autoptr(GArray) rows = ew_build_list(book, 0, NULL);
  g_autoptr(GArray) samples = g_array_new(FALSE, TRUE, sizeof(struct ew_growth_sample));
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_build_row *row = &g_array_index(rows, struct ew_build_row, i);
    g_autoptr(ew_build) build = row->id == without ? NULL : ew_build_load(book, row->id, NULL);
    const struct ew_build_facts *other = build ? ew_build_facts_of(build) : NULL;
    if (!other || !like(other->block, facts->block) || !like(other->head, facts->head) ||
        !like(other->rocker, facts->rocker))
      continue;
    guint before = samples->len;
    add_samples(build, samples);
    if (from && samples->len > before)
      g_ptr_array_add(*from, g_strdup(row->engine));
  }
  return ew_growth_learn((const struct ew_growth_sample *)(void *)samples->data, samples->len,
                         side);
}

/* The last sound pull, and every like pull before it, averaged at the last one's speeds. */
static GPtrArray *last_pulls(struct ew_desk *desk, gint64 engine_id, GError **error) {
  GPtrArray *pulls = g_ptr_array_new_with_free_func((GDestroyNotify)ew_loaded_free);
  g_autoptr(GArray) rows = ew_pull_list(desk->book, engine_id, error);
  for (guint i = rows->len; i-- > 0;) {
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, i);
    if (!ew_pull_counts(row))
      continue;
    struct ew_loaded *loaded = ew_desk_load_id(desk, row->id, error);
    const struct ew_loaded *last = pulls->len ? pulls->pdata[0] : NULL;
    if (!loaded)
      break;
    if (last && (strcmp(last->setup_key, loaded->setup_key) != 0 ||
                 fabs(last->curve->high_rpm - loaded->curve->high_rpm) >= 150)) {
      ew_loaded_free(loaded);
      break;
    }
    g_ptr_array_add(pulls, loaded);
  }
  return pulls;
}

static double mean_at(const GPtrArray *pulls, const char *key, double speed) {
  double sum = 0;
  guint count = 0;
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_curve *c = ((struct ew_loaded *)pulls->pdata[i])->curve;
    const struct ew_curve_column *column = key ? ew_curve_column(c, key, 0) : NULL;
    double value = !key     ? ew_curve_at(c, c->torque_n_m, speed)
                   : column ? ew_curve_at(c, column->values, speed)
                            : (double)NAN;
    if (!isnan(value))
      sum += value, count++;
  }
  return count ? sum / count : (double)NAN;
}

static struct ew_build_result peaks_of(const GPtrArray *pulls) {
  struct ew_build_result r = {NAN, NAN, NAN, NAN, (int)pulls->len};
  if (pulls->len == 0)
    return r;
  const struct ew_curve *first = ((struct ew_loaded *)pulls->pdata[0])->curve;
  for (gsize j = 0; j < first->points; j++) {
    double speed = first->speed_rpm[j], torque = mean_at(pulls, NULL, speed),
           power = torque * speed * G_PI / 30;
    if (!(torque <= r.torque_n_m))
      r.torque_n_m = torque;
    if (!(power <= r.power_w))
      r.power_w = power, r.power_speed_rpm = speed;
  }
  r.highest_rpm = first->high_rpm;
  return r;
}

gboolean ew_build_result_of(struct ew_desk *desk, gint64 engine_id, struct ew_build_result *result,
                            GError **error) {
  g_autoptr(GError) problem = NULL;
  g_autoptr(GPtrArray) pulls = last_pulls(desk, engine_id, &problem);
  *result = peaks_of(pulls);
  if (!problem)
    return TRUE;
  g_propagate_error(error, g_steal_pointer(&problem));
  return FALSE;
}

GPtrArray *ew_build_blocks(struct ew_book *book, gint64 engine_id, enum ew_build_gate gate,
                           GError **error) {
  gint64 id = ew_build_current(book, engine_id);
  g_autoptr(ew_build) build = id ? ew_build_load(book, id, error) : NULL;
  return build ? ew_build_open_steps(build, gate) : NULL;
}

static void family_row_clear(struct ew_family_row *row) {
  g_clear_pointer(&row->engine, g_free);
  g_clear_pointer(&row->build, g_free);
}

static double turning_torque(const struct ew_build *build) {
  double value = NAN;
  const struct ew_build_measure *m;
  EW_BUILD_EACH(build, MEASURE, struct ew_build_measure, m, i)
  if (strcmp(m->item, "turning torque running") == 0)
    value = g_array_index(m->readings, double, m->readings->len - 1);
  return value;
}

static gboolean family_row(struct ew_desk *desk, const struct ew_build_row *row,
                           struct ew_family_row *out, GError **error) {
  struct ew_bench_build bench;
  g_autofree char *id = g_strdup_printf("%" G_GINT64_FORMAT, row->engine_id);
  if (!ew_bench_build_open(desk->book, id, TRUE, &bench, error))
    return FALSE;
  g_autoptr(GPtrArray) pulls = last_pulls(desk, row->engine_id, NULL);
  struct ew_build_result r = peaks_of(pulls);
  *out = (struct ew_family_row){
      .engine = g_strdup(row->engine),
      .build = g_strdup(row->name),
      .torque_per_volume_n_m_m3 = r.torque_n_m / ew_engine_displacement_m3(&bench.engine),
      .power_w = r.power_w,
      .specific_fuel_kg_j = mean_at(pulls, "bsfc", r.power_speed_rpm),
      .oil_pressure_pa = mean_at(pulls, "oil_pressure", r.power_speed_rpm),
      .turning_torque_n_m = turning_torque(bench.build),
      .pulls = r.pulls};
  ew_bench_build_clear(&bench);
  return TRUE;
}

GArray *ew_build_family(struct ew_desk *desk, const char *family, GError **error) {
  GArray *list = g_array_new(FALSE, TRUE, sizeof(struct ew_family_row));
  g_array_set_clear_func(list, (GDestroyNotify)family_row_clear);
  g_autoptr(GArray) rows = ew_build_list(desk->book, 0, error);
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_build_row *row = &g_array_index(rows, struct ew_build_row, i);
    if (ew_build_current(desk->book, row->engine_id) != row->id)
      continue;
    g_autoptr(ew_build) build = ew_build_load(desk->book, row->id, error);
    struct ew_family_row one;
    if (!build || !like(ew_build_facts_of(build)->family, family))
      continue;
    if (family_row(desk, row, &one, error))
      g_array_append_val(list, one);
  }
  return list;
}
