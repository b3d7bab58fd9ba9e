/* The matrix of a state: how its rows lie, one lane out and in, and what must hold. See state.h. */
#include "cycle/state.h"
#include "base/error.h"
#include "cycle/plan_parts.h"
#include <math.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#define MAGIC        "EWCSTATE"
#define DIGEST_BYTES 32

static const int words_of[EW_STATE_GROUPS] = {
    EW_CELL_WORDS,     EW_ENDS_WORDS,     EW_NODES_WORDS,  1,           EW_VOLUMES_WORDS,
    EW_STATE_CYLINDER, EW_STATE_CYLINDER, EW_CLOSED_WORDS, EW_RUN_WORDS};
static const char *const group_names[EW_STATE_GROUPS] = {
    "cell",     "pipe end",      "node",          "junction", "volume",
    "cylinder", "shut cylinder", "shut cylinder", "run"};

/* ---- memory ---- */

static void lay_rows(struct ew_cycle_state *s) {
  for (int g = 0; g < EW_STATE_GROUPS; g++) {
    gsize guard = g == EW_STATE_CELLS ? EW_STATE_GUARD : 0;
    /* cells: an odd number of cache lines a word, so that words do not share the sets of the cache (as pipes.c) */
    s->pitch[g] = ((gsize)s->parts[g] + 2 * guard) | (guard ? 1 : 0);
    s->row[g] = s->rows + guard;
    g_assert(s->parts[g] >= 0 && words_of[g] > 0);
    s->rows += s->pitch[g] * (gsize)words_of[g];
  }
}

static struct ew_cycle_state *with_rows(const struct ew_cycle_state *like) {
  struct ew_cycle_state *s = g_memdup2(like, sizeof *like);
  s->first = g_memdup2(like->first, sizeof(int) * (gsize)like->pipes);
  s->value = aligned_alloc(64, sizeof *s->value * s->rows);
  memset(s->value, 0, sizeof *s->value * s->rows);
  return s;
}

static void fill_row(double *row, double value) {
  for (int l = 0; l < EW_LANES; l++)
    row[l] = value;
}

/* Ghosts and guards hold what the kernels may compute with and nobody uses. */
static void rest(struct ew_cycle_state *s) {
  for (int c = 0; c < s->parts[EW_STATE_CELLS]; c++) {
    fill_row(ew_state_at(s, EW_STATE_CELLS, EW_MASS, c), 1);
    fill_row(ew_state_at(s, EW_STATE_CELLS, EW_ENERGY, c), 2e5);
    fill_row(ew_state_at(s, EW_STATE_CELLS, EW_CELL_TEMPERATURE, c), 300);
    fill_row(ew_state_at(s, EW_STATE_CELLS, EW_CELL_WALL, c), 300);
  }
}

struct ew_cycle_state *ew_cycle_state_new(const struct ew_cycle_laid *shape) {
  const struct ew_cycle_plan *plan = shape->plan;
  struct ew_cycle_state s = {.pipes = shape->pipes,
                             .cells = shape->cells + 2 * shape->pipes,
                             .cylinders = ew_plan_count(plan, EW_PLAN_CYLINDERS),
                             .volumes = ew_plan_count(plan, EW_PLAN_VOLUMES)};
  g_autofree int *first = g_new(int, shape->pipes);
  for (int i = 0; i < shape->pipes; i++)
    first[i] = shape->first[i] + 2 * i + 1;
  s.first = first;
  const int parts[EW_STATE_GROUPS] = {
      s.cells + 1,          2 * s.pipes, EW_NODE_FIRST + s.volumes + s.cylinders,
      (int)plan->junctions, s.volumes,   s.cylinders,
      s.cylinders,          s.cylinders, 1};
  memcpy(s.parts, parts, sizeof parts);
  lay_rows(&s);
  struct ew_cycle_state *state = with_rows(&s);
  rest(state);
  return state;
}

void ew_cycle_state_free(struct ew_cycle_state *s) {
  if (!s)
    return;
  g_free(s->first);
  free(s->value);
  g_free(s);
}

void ew_cycle_state_copy(struct ew_cycle_state *to, int to_lane, const struct ew_cycle_state *from,
                         int from_lane) {
  g_assert(to->rows == from->rows);
  g_assert(to_lane >= 0 && to_lane < EW_LANES && from_lane >= 0 && from_lane < EW_LANES);
  for (gsize i = 0; i < from->rows; i++)
    to->value[i][to_lane] = from->value[i][from_lane];
}

struct ew_cycle_state *ew_cycle_state_take(const struct ew_cycle_state *s, int lane) {
  struct ew_cycle_state *one = with_rows(s);
  ew_cycle_state_copy(one, 0, s, lane);
  return one;
}

/* ---- cylinders ---- */

static const gsize cylinder_member[] = {
#define X(member, rule) offsetof(struct ew_cylinder, member),
    EW_STATE_CYLINDER_WORDS(X)
#undef X
};
G_STATIC_ASSERT(sizeof cylinder_member / sizeof *cylinder_member == EW_STATE_STAGE);
/* Every member but the stage is a double, so a member that is added and forgotten here is seen. */
G_STATIC_ASSERT(sizeof(struct ew_cylinder) == (EW_STATE_STAGE + 1) * sizeof(double));

void ew_state_get_cylinder(const struct ew_cycle_state *s, enum ew_state_group group, int lane,
                           int i, struct ew_cylinder *c) {
  g_assert((group == EW_STATE_CYLINDERS || group == EW_STATE_SHUT) && i >= 0 && i < s->cylinders);
  for (int w = 0; w < EW_STATE_STAGE; w++)
    *(double *)(void *)((char *)c + cylinder_member[w]) = ew_state_at(s, group, w, i)[lane];
  c->stage = (enum ew_cylinder_stage)ew_state_at(s, group, EW_STATE_STAGE, i)[lane];
}

void ew_state_put_cylinder(struct ew_cycle_state *s, enum ew_state_group group, int lane, int i,
                           const struct ew_cylinder *c) {
  g_assert((group == EW_STATE_CYLINDERS || group == EW_STATE_SHUT) && i >= 0 && i < s->cylinders);
  for (int w = 0; w < EW_STATE_STAGE; w++)
    ew_state_at(s, group, w, i)[lane] =
        *(const double *)(const void *)((const char *)c + cylinder_member[w]);
  ew_state_at(s, group, EW_STATE_STAGE, i)[lane] = (double)c->stage;
}

double ew_cycle_local_angle(const struct ew_cycle_plan *plan, int cylinder, double angle) {
  double deg = fmod(angle - ew_plan_cylinders(plan)[cylinder].shape.firing_deg, 720);
  return deg > 360 ? deg - 720 : deg <= -360 ? deg + 720 : deg;
}

void ew_cycle_frame_of(const struct ew_cycle_laid *laid, int cylinder, double speed_rpm,
                       struct ew_cylinder_frame *frame) {
  const struct ew_cycle_plan *plan = laid->plan;
  ew_cylinder_frame_make(&ew_plan_cylinders(plan)[cylinder].shape, &plan->combustion,
                         plan->woschni_factor, &laid->gas, speed_rpm, frame);
}

/* ---- what must hold ---- */

enum rule { FINITE, POSITIVE, OR_NAN, YES_NO, COUNT, ANGLE, STAGE, GAS_K };

static gboolean holds(enum rule rule, double x, const struct ew_working_gas *gas) {
  switch (rule) {
  case FINITE: return isfinite(x);
  case POSITIVE: return isfinite(x) && x > 0;
  case OR_NAN: return isfinite(x) || isnan(x);
  case YES_NO: return x == 0 || x == 1;
  case COUNT: return x >= 0 && x < 1e9 && x == floor(x);
  case ANGLE: return x >= 0 && x <= 720;
  case STAGE: return x >= EW_EXCHANGE && x <= EW_EXPANSION && x == floor(x);
  case GAS_K: return x >= gas->coldest_k && x <= gas->hottest_k;
  }
  return FALSE;
}

static enum rule rule_of(enum ew_state_group group, int word) {
  static const enum rule cylinder[] = {
#define X(member, rule) rule,
      EW_STATE_CYLINDER_WORDS(X)
#undef X
          STAGE};
  static const enum rule run[] = {
#define X(id, rule) rule,
      EW_STATE_RUN_WORDS(X)
#undef X
  };
  switch (group) {
  case EW_STATE_CELLS:
    return word == EW_MASS || word == EW_CELL_WALL ? POSITIVE
           : word == EW_CELL_TEMPERATURE           ? GAS_K
                                                   : FINITE;
  case EW_STATE_VOLUMES:
    return word == EW_VOLUMES_MASS ? POSITIVE : word == EW_VOLUMES_TEMPERATURE ? GAS_K : FINITE;
  case EW_STATE_CYLINDERS: return cylinder[word];
  case EW_STATE_SHUT: /* all zeros until its valves have shut for the first time */
    return word == EW_STATE_STAGE || cylinder[word] == OR_NAN ? cylinder[word] : FINITE;
  case EW_STATE_RUN: return run[word];
  case EW_STATE_ENDS:
  case EW_STATE_NODES:
  case EW_STATE_JUNCTIONS:
  case EW_STATE_CLOSED:
  case EW_STATE_GROUPS: break;
  }
  return FINITE;
}

static gboolean check_part(const struct ew_cycle_state *s, int lane,
                           const struct ew_cycle_laid *laid, enum ew_state_group group, int part,
                           GError **error) {
  for (int w = 0; w < words_of[group]; w++) {
    double x = ew_state_at(s, group, w, part)[lane];
    if (!holds(rule_of(group, w), x, &laid->gas))
      return ew_refuse(error, "state of lane %d: word %d of %s %d is %g, which cannot be", lane + 1,
                       w + 1, group_names[group], part + 1, x);
  }
  return TRUE;
}

gboolean ew_cycle_state_check(const struct ew_cycle_state *s, int lane,
                              const struct ew_cycle_laid *laid, GError **error) {
  g_assert(lane >= 0 && lane < EW_LANES && s->pipes == laid->pipes);
  for (int i = 0; i < s->pipes; i++)
    for (int c = 0; c < laid->count[i]; c++)
      if (!check_part(s, lane, laid, EW_STATE_CELLS, ew_state_cell(s, i, c), error))
        return FALSE;
  for (int g = EW_STATE_ENDS; g < EW_STATE_GROUPS; g++)
    for (int part = 0; part < s->parts[g]; part++)
      if (!check_part(s, lane, laid, (enum ew_state_group)g, part, error))
        return FALSE;
  return TRUE;
}

/* ---- bytes ---- */

struct header {
  char magic[8];
  gint64 layout, physics, grid, rows;
  uint8_t plan[DIGEST_BYTES];
};

static void digest_of(const void *bytes, gsize count, uint8_t digest[DIGEST_BYTES]) {
  g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
  gsize size = DIGEST_BYTES;
  g_checksum_update(sum, bytes, (gssize)count);
  g_checksum_get_digest(sum, digest, &size);
}

static struct header header_of(const struct ew_cycle_state *s, const struct ew_cycle_laid *laid) {
  struct header h = {.layout = GINT64_TO_LE(EW_STATE_LAYOUT),
                     .physics = GINT64_TO_LE(EW_CYCLE_PHYSICS),
                     .grid = GINT64_TO_LE((gint64)laid->grid),
                     .rows = GINT64_TO_LE((gint64)s->rows)};
  memcpy(h.magic, MAGIC, sizeof h.magic);
  memcpy(h.plan, laid->plan->digest, sizeof h.plan);
  return h;
}

GBytes *ew_cycle_state_save(const struct ew_cycle_state *s, int lane,
                            const struct ew_cycle_laid *laid) {
  g_assert(lane >= 0 && lane < EW_LANES);
  gsize body = sizeof(struct header) + s->rows * sizeof(double);
  uint8_t *bytes = g_malloc(body + DIGEST_BYTES);
  struct header h = header_of(s, laid);
  memcpy(bytes, &h, sizeof h);
  for (gsize i = 0; i < s->rows; i++) {
    guint64 bits;
    memcpy(&bits, &s->value[i][lane], sizeof bits);
    bits = GUINT64_TO_LE(bits);
    memcpy(bytes + sizeof h + 8 * i, &bits, sizeof bits);
  }
  digest_of(bytes, body, bytes + body);
  return g_bytes_new_take(bytes, body + DIGEST_BYTES);
}

static gboolean check_header(const struct header *has, const struct header *wants, GError **error) {
  if (memcmp(has->magic, wants->magic, sizeof has->magic) != 0)
    return ew_refuse(error, "this is not a state of the cycle simulation");
  if (has->layout != wants->layout || has->physics != wants->physics)
    return ew_refuse(error, "the state was made by another version of this program: start again");
  if (memcmp(has->plan, wants->plan, sizeof has->plan) != 0 || has->grid != wants->grid ||
      has->rows != wants->rows)
    return ew_refuse(error, "the state belongs to another plan or grid");
  return TRUE;
}

gboolean ew_cycle_state_load(struct ew_cycle_state *s, int lane, const struct ew_cycle_laid *laid,
                             const void *data, gsize count, GError **error) {
  const uint8_t *bytes = data;
  struct header has, wants = header_of(s, laid);
  gsize body = sizeof has + s->rows * sizeof(double);
  uint8_t digest[DIGEST_BYTES];
  if (count < sizeof has)
    return ew_refuse(error, "a state has more than %zu bytes", count);
  memcpy(&has, bytes, sizeof has);
  if (!check_header(&has, &wants, error))
    return FALSE;
  if (count != body + DIGEST_BYTES)
    return ew_refuse(error, "the state has %zu bytes; it must have %zu", count,
                     body + DIGEST_BYTES);
  digest_of(bytes, body, digest);
  if (memcmp(digest, bytes + body, DIGEST_BYTES) != 0)
    return ew_refuse(error, "the state is damaged: its digest does not match");
  struct ew_cycle_state *one = with_rows(s);
  for (gsize i = 0; i < s->rows; i++) {
    guint64 bits;
    memcpy(&bits, bytes + sizeof has + 8 * i, sizeof bits);
    bits = GUINT64_FROM_LE(bits);
    memcpy(&one->value[i][0], &bits, sizeof bits);
  }
  gboolean good = ew_cycle_state_check(one, 0, laid, error);
  if (good)
    ew_cycle_state_copy(s, lane, one, 0);
  ew_cycle_state_free(one);
  return good;
}
