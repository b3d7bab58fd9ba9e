/* Build files into the book, and what the book knows about a build: its result on the dyno, growth of lash over all
 * like builds, steps that block. Averages are over like pulls that count, at the last one's speeds. */
#include "desk/build.h"
#include "base/as_pointer.h"
#include "desk/alike.h"
#include "base/error.h"
#include "base/language.h"
#include "book/keep.h"
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
  if (!ew_engine_get(book, engine, &row, error))
    return FALSE;
  gint64 id;
  gboolean good = ew_build_current(book, row.id, &id, error);
  if (good && !id && needed)
    good = ew_refuse_with(error, EW_REMEDY_BEGIN_BUILD, "'%s' has no build yet", row.name);
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
  g_assert(!good || (bench->build && bench->engine_name));
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
  const char *language = ew_language_code(ew_language_now());
  g_autofree char *path = g_strdup_printf("/build/%s.yaml", which),
                  *own = g_strdup_printf("/build/%s/%s.yaml", language, which);
  /* resources are part of the program's image: the bytes outlive the handle */
  g_autoptr(GBytes) bytes = g_resources_lookup_data(own, G_RESOURCE_LOOKUP_FLAGS_NONE, NULL);
  if (!bytes)
    bytes = g_resources_lookup_data(path, G_RESOURCE_LOOKUP_FLAGS_NONE, NULL);
  return bytes ? g_bytes_get_data(bytes, size) : NULL;
}

/* Read a template file (NULL: the program's own of that name) into records of a build. */
static gboolean build_take_template(const char *path, const char *own,
                                    const struct ew_engine *engine, struct ew_build *into,
                                    GError **error) {
  gsize size = 0;
  const char *text = path ? NULL : ew_build_own_template(own, &size);
  if (!path && !text)
    return ew_fail(error, "the program's own %s are not in this build of it", own);
  g_autoptr(ew_node) root =
      path ? ew_node_read(path, error) : ew_node_parse(own, text, size, error);
  return root && ew_build_read_template(root, path ? path : own, engine, into, error);
}

static const char *text_of(const struct ew_node *map, const char *key) {
  const struct ew_node *node = ew_node_member(map, key);
  return node && node->kind == EW_NODE_SCALAR ? node->text : NULL;
}

static char *beside(const char *path, const char *name) {
  g_autofree char *folder = g_path_get_dirname(path);
  return g_path_is_absolute(name) ? g_strdup(name) : g_build_filename(folder, name, NULL);
}

/* One build of a file, read as far as it can be before the book is locked. */
struct file_build {
  const struct ew_node *map;
  const char *path;
  struct ew_engine engine; /* as the map describes it; else the book's is read */
  char *yaml;
  GArray *files;                        /* struct ew_new_file */
  gboolean engine_added, engine_unlike; /* the book had not the engine; has it otherwise */
};

static void file_clear(void *data) {
  struct ew_new_file *file = data;
  g_free(ew_as_pointer(file->name));
  g_bytes_unref(file->bytes);
}

static void file_build_free(void *data) {
  struct file_build *f = data;
  if (f->yaml)
    ew_engine_clear(&f->engine);
  g_free(f->yaml);
  g_array_unref(f->files);
  g_free(f);
}

/* The engine that a build map describes or points to, where it does not name one of the book. */
static gboolean read_engine(struct file_build *f, GError **error) {
  const char *file = text_of(f->map, "engine_file");
  const struct ew_node *inside = ew_node_member(f->map, "engine");
  if (text_of(f->map, "engine"))
    return TRUE;
  g_autofree char *place = file ? beside(f->path, file) : NULL;
  g_autoptr(ew_node) root = place ? ew_node_read(place, error) : NULL;
  if (!file && !inside)
    return ew_refuse(error, "%s: 'engine' or 'engine_file' is missing: which engine is it?",
                     f->path);
  if ((place && !root) ||
      !ew_engine_read(root ? root : inside, place ? place : f->path, &f->engine, error))
    return FALSE;
  f->yaml = ew_engine_write_yaml(&f->engine);
  return (f->engine.name && *f->engine.name) ||
         ew_refuse(error, "%s: the engine has no 'name'", place ? place : f->path);
}

static gboolean read_files(struct file_build *f, GError **error) {
  const struct ew_node *list = ew_node_member(f->map, "attach");
  for (guint i = 0; list && i < list->children->len; i++) {
    const struct ew_node *one = list->children->pdata[i];
    const char *file = one->kind == EW_NODE_SCALAR ? one->text : text_of(one, "file");
    if (!file)
      return ew_refuse(error, "%s, line %u: 'attach' is a list of files", f->path, one->line);
    g_autofree char *place = beside(f->path, file);
    GBytes *bytes = ew_read_file(place, error);
    if (!bytes)
      return FALSE;
    struct ew_new_file row = {g_path_get_basename(file), text_of(one, "note"), bytes};
    g_array_append_val(f->files, row);
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
    if (file && !build_take_template(place, keys[k], engine, build, error))
      return FALSE;
  }
  return TRUE;
}

/* Against what stands already, which may have brought template and checklists. */
static gboolean fill(struct ew_build *build, const struct ew_engine_row *row, gpointer user,
                     GError **error) {
  g_assert(build && row && user);
  static const char *const others[] = {"engine",     "engine_file", "targets",
                                       "checklists", "attach",      NULL};
  struct file_build *f = user;
  struct ew_engine own;
  if (!read_engine_row(row, &own, error))
    return FALSE;
  const struct ew_engine *engine = f->yaml ? &f->engine : &own;
  g_autofree char *stands = f->yaml ? ew_engine_write_yaml(&own) : NULL;
  f->engine_unlike = f->yaml && strcmp(stands, f->yaml) != 0;
  gboolean good = take_templates(f->map, f->path, engine, build, error) &&
                  ew_build_read_file(f->map, f->path, engine, others, build, error);
  ew_engine_clear(&own);
  return good;
}

static gboolean read_map(const struct ew_node *map, const char *path, GPtrArray *all,
                         GError **error) {
  if (map->kind != EW_NODE_MAP)
    return ew_refuse(error, "%s, line %u: expected a build as lines of the form 'name: value'",
                     path, map->line);
  struct file_build *f = g_new0(struct file_build, 1);
  *f = (struct file_build){
      .map = map, .path = path, .files = g_array_new(FALSE, FALSE, sizeof(struct ew_new_file))};
  g_array_set_clear_func(f->files, file_clear);
  g_ptr_array_add(all, f);
  return read_engine(f, error) && read_files(f, error);
}

static gboolean keep_maps(struct ew_book *book, const GPtrArray *all,
                          struct ew_build_loaded *loaded, GError **error) {
  g_autofree struct ew_new_build *builds = g_new0(struct ew_new_build, all->len + 1);
  for (guint i = 0; i < all->len; i++) {
    struct file_build *f = all->pdata[i];
    const char *name = text_of(f->map, "build");
    builds[i] = (struct ew_new_build){.engine = text_of(f->map, "engine"),
                                      .engine_name = f->yaml ? f->engine.name : NULL,
                                      .engine_yaml = f->yaml,
                                      .engine_added = &f->engine_added,
                                      .name = name ? name : "build",
                                      .fill = fill,
                                      .user = f,
                                      .files = (const struct ew_new_file *)(void *)f->files->data,
                                      .files_count = f->files->len};
  }
  struct ew_kept_builds kept;
  if (!ew_keep_builds(book, builds, all->len, &kept, error))
    return FALSE;
  *loaded = (struct ew_build_loaded){all->len, kept.added, kept.there,
                                     g_ptr_array_new_with_free_func(g_free),
                                     g_ptr_array_new_with_free_func(g_free)};
  for (guint i = 0; i < all->len; i++) {
    const struct file_build *f = all->pdata[i];
    if (f->engine_added)
      g_ptr_array_add(loaded->engines_added, g_strdup(f->engine.name));
    else if (f->engine_unlike)
      g_ptr_array_add(loaded->engines_unlike, g_strdup(f->engine.name));
  }
  return TRUE;
}

void ew_build_loaded_clear(struct ew_build_loaded *loaded) {
  g_clear_pointer(&loaded->engines_added, g_ptr_array_unref);
  g_clear_pointer(&loaded->engines_unlike, g_ptr_array_unref);
}

gboolean ew_build_load_file(struct ew_book *book, const char *path, struct ew_build_loaded *loaded,
                            GError **error) {
  *loaded = (struct ew_build_loaded){0};
  g_autoptr(ew_node) root = ew_node_read(path, error);
  g_autoptr(GPtrArray) all = g_ptr_array_new_with_free_func(file_build_free);
  if (!root)
    return FALSE;
  const struct ew_node *builds = ew_node_member(root, "builds");
  gboolean good = TRUE;
  if (!builds)
    good = read_map(root, path, all, error);
  else if (builds->kind != EW_NODE_LIST || root->children->len != 1)
    good = ew_refuse(error, "%s: 'builds' is a list, and must be the only key", path);
  for (guint i = 0; good && builds && i < builds->children->len; i++)
    good = read_map(builds->children->pdata[i], path, all, error);
  return good && keep_maps(book, all, loaded, error);
}

static gboolean fill_start(struct ew_build *build, const struct ew_engine_row *row, gpointer user,
                           GError **error) {
  const struct ew_build_start_ask *s = user;
  struct ew_engine engine;
  if (!read_engine_row(row, &engine, error))
    return FALSE;
  void *record = ew_build_record_read(EW_BUILD_FACTS, s->facts, s->where, build, &engine, error);
  if (record)
    g_ptr_array_add(build->records[EW_BUILD_FACTS], record);
  gboolean good = record && build_take_template(s->targets, "targets", &engine, build, error) &&
                  build_take_template(s->lists, "checklists", &engine, build, error);
  ew_engine_clear(&engine);
  return good;
}

gboolean ew_bench_build_start(struct ew_book *book, const char *engine, const char *name,
                              const struct ew_build_start_ask *ask, guint *added, GError **error) {
  const struct ew_new_build build = {.engine = engine,
                                     .name = name && *name ? name : "build",
                                     .anew = TRUE,
                                     .fill = fill_start,
                                     .user = ew_as_pointer(ask)};
  struct ew_kept_builds kept;
  if (!ew_keep_builds(book, &build, 1, &kept, error))
    return FALSE;
  *added = kept.added;
  return TRUE;
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
    g_assert(p->side == 0 || p->side == 1);
    g_array_append_val(samples, sample);
  }
}

struct ew_growth ew_build_growth(struct ew_book *book, const struct ew_build_facts *facts,
                                 gint64 without, int side, GPtrArray **from) {
  g_assert(side == 0 || side == 1);
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

/* The newest first: sums of figures that were given before stay what they were to the last bit. */
static double mean_at(const GPtrArray *pulls, const char *key, double speed) {
  double sum = 0;
  guint count = 0;
  for (guint i = pulls->len; i-- > 0;) {
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
  struct ew_build_result r = {NAN, NAN, NAN, NAN, (int)pulls->len, FALSE};
  if (pulls->len == 0)
    return r;
  const struct ew_loaded *latest = pulls->pdata[pulls->len - 1];
  const struct ew_curve *last = latest->curve;
  r.invented = latest->row.invented;
  for (gsize j = 0; j < last->points; j++) {
    double speed = last->speed_rpm[j], torque = mean_at(pulls, NULL, speed),
           power = torque * speed * G_PI / 30;
    if (!(torque <= r.torque_n_m))
      r.torque_n_m = torque;
    if (!(power <= r.power_w))
      r.power_w = power, r.power_speed_rpm = speed;
  }
  r.highest_rpm = last->high_rpm;
  return r;
}

gboolean ew_build_result_of(struct ew_desk *desk, gint64 engine_id, struct ew_build_result *result,
                            GError **error) {
  g_autoptr(GPtrArray) pulls = ew_desk_last_like(desk, engine_id, error);
  if (!pulls)
    return FALSE;
  *result = peaks_of(pulls);
  return TRUE;
}

GPtrArray *ew_build_blocks(struct ew_book *book, gint64 engine_id, enum ew_build_gate gate,
                           GError **error) {
  gint64 id;
  g_autoptr(ew_build) build =
      ew_build_current(book, engine_id, &id, error) && id ? ew_build_load(book, id, error) : NULL;
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
  if (ew_build_is(build, m->item, "turning torque running"))
    value = g_array_index(m->readings, double, m->readings->len - 1);
  return value;
}

static gboolean family_row(struct ew_desk *desk, const struct ew_build_row *row,
                           struct ew_family_row *out, GError **error) {
  struct ew_bench_build bench;
  g_autofree char *id = g_strdup_printf("%" G_GINT64_FORMAT, row->engine_id);
  if (!ew_bench_build_open(desk->book, id, TRUE, &bench, error))
    return FALSE;
  g_autoptr(GPtrArray) pulls = ew_desk_last_like(desk, row->engine_id, NULL);
  if (!pulls)
    pulls = g_ptr_array_new(); /* a pull that can't be read: nothing is known of them */
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
  GError *problem = NULL;
  g_autoptr(GArray) rows = ew_build_list(desk->book, 0, &problem);
  for (guint i = 0; !problem && i < rows->len; i++) {
    const struct ew_build_row *row = &g_array_index(rows, struct ew_build_row, i);
    gint64 current;
    if (!ew_build_current(desk->book, row->engine_id, &current, &problem) || current != row->id)
      continue;
    g_autoptr(ew_build) build = ew_build_load(desk->book, row->id, &problem);
    struct ew_family_row one;
    if (build && like(ew_build_facts_of(build)->family, family) &&
        family_row(desk, row, &one, &problem))
      g_array_append_val(list, one);
  }
  if (problem) /* what there is, and that it is not all */
    g_propagate_error(error, problem);
  return list;
}
