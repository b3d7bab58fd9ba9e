/* Making a plan from a model, and what is asked of it. Form and promises: plan.h; reading: plan_read.c.
 *
 *   1. the model is checked, the numbers of cells are chosen (or taken from a plan of the same layout)
 *   2. the gas is made, or taken where it is the same
 *   3. parts and their tables are gathered, equal tables once
 *   4. all is laid behind the header, made canonical, and sealed with its digest */
#include "base/error.h"
#include "cycle/plan_parts.h"
#include "gas/moist_air.h"
#include <math.h>
#include <stddef.h>
#include <string.h>

#define COARSE_M     0.04
#define FINE_BELOW_M 0.03

G_STATIC_ASSERT(offsetof(struct ew_working_gas, fuel.element_mol_kg) == sizeof(double));
G_STATIC_ASSERT(sizeof(struct ew_cycle_plan) % 8 == 0 && sizeof(int64_t) == sizeof(double));
G_STATIC_ASSERT(offsetof(struct ew_cycle_plan, layout) == EW_PLAN_SEALED_FROM);

static const gsize section_each[EW_PLAN_SECTIONS] = {
    sizeof(struct ew_plan_cylinder), sizeof(struct ew_plan_pipe),
    sizeof(struct ew_plan_volume),   sizeof(struct ew_plan_valve),
    sizeof(struct ew_cycle_station), sizeof(double),
    sizeof(struct ew_cycle_flow),    1};

gsize ew_plan_section_bytes(const struct ew_cycle_plan *plan, int section) {
  g_assert(section >= 0 && section < EW_PLAN_SECTIONS);
  return section == EW_PLAN_TEXT ? (gsize)plan->text_bytes
                                 : (gsize)plan->count[section] * section_each[section];
}

void ew_plan_offsets(const struct ew_cycle_plan *plan, int64_t at[EW_PLAN_SECTIONS]) {
  at[0] = sizeof *plan;
  for (int s = 1; s < EW_PLAN_SECTIONS; s++)
    at[s] = at[s - 1] + (int64_t)ew_plan_section_bytes(plan, s - 1);
}

/* ---- words ---- */

#define MINUS_ZERO    G_GUINT64_CONSTANT(0x8000000000000000)
#define INFINITE_BITS G_GUINT64_CONSTANT(0x7ff0000000000000)
#define ONE_NAN       G_GUINT64_CONSTANT(0x7ff8000000000000)

/* Whole numbers of a plan are small and not negative, so these patterns are doubles wherever they occur. */
void ew_plan_canonical(void *words, gsize bytes) {
  guint64 *w = words;
  for (gsize i = 0; i < bytes / 8; i++)
    if (w[i] == MINUS_ZERO)
      w[i] = 0;
    else if ((w[i] & ~MINUS_ZERO) > INFINITE_BITS)
      w[i] = ONE_NAN;
}

void ew_cycle_digest_words(GChecksum *sum, const void *words, gsize bytes) {
#if G_BYTE_ORDER == G_LITTLE_ENDIAN
  g_checksum_update(sum, words, (gssize)bytes);
#else
  for (gsize i = 0; i < bytes / 8; i++) {
    guint64 w = GUINT64_TO_LE(((const guint64 *)words)[i]);
    g_checksum_update(sum, (const guchar *)&w, 8);
  }
#endif
}

void ew_plan_digest_of(const struct ew_cycle_plan *plan, uint8_t digest[32]) {
  g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
  gsize size = 32, bytes = (gsize)(plan->bytes - plan->text_bytes) - EW_PLAN_SEALED_FROM;
  ew_cycle_digest_words(sum, (const char *)plan + EW_PLAN_SEALED_FROM, bytes);
  g_checksum_get_digest(sum, digest, &size);
}

/* ---- layout ---- */

static gboolean same_layout(const struct ew_cycle_model *m, const struct ew_cycle_plan *p) {
  if (m->pipe_friction != p->pipe_friction || (int)m->delivery != p->delivery ||
      m->cylinders != p->count[EW_PLAN_CYLINDERS] || m->pipes != p->count[EW_PLAN_PIPES] ||
      m->volumes != p->count[EW_PLAN_VOLUMES] || m->junctions != p->junctions ||
      m->valves != p->count[EW_PLAN_VALVES])
    return FALSE;
  for (int i = 0; i < m->pipes; i++) {
    const struct ew_plan_pipe *pipe = &ew_plan_pipes(p)[i];
    for (int side = 0; side < 2; side++)
      if ((int)m->pipe[i].end[side].kind != pipe->end[side].kind ||
          m->pipe[i].end[side].index != pipe->end[side].index ||
          (m->pipe[i].exhaust != 0) != pipe->exhaust)
        return FALSE;
  }
  for (int v = 0; v < m->valves; v++) {
    const struct ew_plan_valve *valve = &ew_plan_valves(p)[v];
    if (m->valve[v].cylinder != valve->cylinder || (m->valve[v].exhaust != 0) != valve->exhaust)
      return FALSE;
  }
  return TRUE;
}

void ew_cycle_plan_shape(const struct ew_cycle_plan *p, char hex[EW_CYCLE_HEX]) {
  g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
  ew_cycle_digest_words(sum, p->count, EW_PLAN_STATIONS * sizeof(int64_t)); /* of parts */
  const int64_t whole[] = {p->junctions, p->grids, p->delivery};
  ew_cycle_digest_words(sum, whole, sizeof whole);
  ew_cycle_digest_words(sum, &p->pipe_friction, sizeof p->pipe_friction);
  for (int i = 0; i < p->count[EW_PLAN_PIPES]; i++) {
    const struct ew_plan_pipe *pipe = &ew_plan_pipes(p)[i];
    const int64_t joined[] = {pipe->exhaust,     pipe->cells[0],     pipe->cells[1],
                              pipe->end[0].kind, pipe->end[0].index, pipe->end[1].kind,
                              pipe->end[1].index};
    ew_cycle_digest_words(sum, joined, sizeof joined);
  }
  for (int v = 0; v < p->count[EW_PLAN_VALVES]; v++) {
    const struct ew_plan_valve *valve = &ew_plan_valves(p)[v];
    const int64_t of[] = {valve->cylinder, valve->exhaust};
    ew_cycle_digest_words(sum, of, sizeof of);
  }
  g_strlcpy(hex, g_checksum_get_string(sum), EW_CYCLE_HEX);
}

/* ---- 3. parts ---- */

struct part { /* a section while it grows, with the tables in it */
  GByteArray *bytes;
  GArray *spans; /* of struct span */
};

struct span {
  int64_t first, count;
};

static const void *added(struct part *part, const void *data, gsize bytes) {
  guint at = part->bytes->len;
  g_byte_array_append(part->bytes, data, (guint)bytes);
  ew_plan_canonical(part->bytes->data + at, bytes);
  return part->bytes->data + at;
}

/* Where the table is: an equal one that is there already, else at the end. */
static int64_t put_table(struct part *part, const void *data, int count, gsize each) {
  guint before = part->bytes->len;
  g_assert(count >= 0 && before % each == 0);
  gsize bytes = (gsize)count * each;
  const void *mine = added(part, data, bytes);
  for (guint i = 0; i < part->spans->len; i++) {
    const struct span *s = &g_array_index(part->spans, struct span, i);
    if (s->count == count && memcmp(part->bytes->data + (gsize)s->first * each, mine, bytes) == 0) {
      g_byte_array_set_size(part->bytes, before);
      return s->first;
    }
  }
  struct span span = {(int64_t)(before / each), count};
  g_array_append_val(part->spans, span);
  return span.first;
}

/* What walls lie above their temperature at 298.15 K, K. */
static double follows(const struct ew_cycle_model *m, double share) {
  return share * (m->ambient_k - 298.15);
}

static void put_cylinders(struct part *part, const struct ew_cycle_model *m) {
  for (int i = 0; i < m->cylinders; i++) {
    struct ew_plan_cylinder c = {.shape = m->cylinder[i]};
    c.shape.wall_k += follows(m, m->metal_follows);
    ew_cycle_shut_interval(m, i, &c.shut_from_deg, &c.shut_to_deg);
    added(part, &c, sizeof c);
  }
}

static int64_t cells_of(double length_m, double cell_m) {
  return MAX(3, lround(length_m / cell_m));
}

/* The table of a pipe's stations, the walls of inlet ports as warm as the air lets them be. */
static int64_t put_stations(struct part *part, const struct ew_cycle_model *m,
                            const struct ew_cycle_pipe *p) {
  g_autofree struct ew_cycle_station *s = g_memdup2(p->station, sizeof *s * (gsize)p->stations);
  for (int i = 0; i < p->stations && !p->exhaust; i++)
    s[i].wall_k += follows(m, m->metal_follows); /* NaN stays */
  return put_table(part, s, p->stations, sizeof *s);
}

static void put_pipes(struct part *part, const struct ew_cycle_model *m, gboolean coarse,
                      double cell_m, const struct ew_cycle_plan *like) {
  for (int i = 0; i < m->pipes; i++) {
    const struct ew_cycle_pipe *p = &m->pipe[i];
    struct ew_plan_pipe out = {.length_m = p->length_m,
                               .bend_loss = p->bend_loss,
                               .exhaust = p->exhaust != 0,
                               .stations = p->stations};
    out.first_station = put_stations(&part[EW_PLAN_STATIONS], m, p);
    out.cells[EW_GRID_FINAL] = cells_of(p->length_m, cell_m);
    out.cells[EW_GRID_COARSE] = coarse ? cells_of(p->length_m, COARSE_M) : 0;
    if (like)
      memcpy(out.cells, ew_plan_pipes(like)[i].cells, sizeof out.cells);
    for (int side = 0; side < 2; side++) {
      out.end[side].kind = (int64_t)p->end[side].kind;
      out.end[side].index = p->end[side].index;
      out.end[side].opening = p->end[side].opening;
    }
    added(&part[EW_PLAN_PIPES], &out, sizeof out);
  }
}

static void put_valves(struct part *part, const struct ew_cycle_model *m) {
  for (int v = 0; v < m->valves; v++) {
    const struct ew_cycle_valve *valve = &m->valve[v];
    struct ew_plan_valve out = {.cylinder = valve->cylinder,
                                .exhaust = valve->exhaust != 0,
                                .count = valve->count,
                                .head_m = valve->head_m,
                                .first_deg = valve->first_deg,
                                .step_deg = valve->step_deg,
                                .lifts = valve->lifts,
                                .flows = valve->flows};
    out.first_lift = put_table(&part[EW_PLAN_LIFTS], valve->lift_m, valve->lifts, sizeof(double));
    out.first_flow =
        put_table(&part[EW_PLAN_FLOWS], valve->flow, valve->flows, sizeof(struct ew_cycle_flow));
    added(&part[EW_PLAN_VALVES], &out, sizeof out);
  }
}

static void put_text(struct part *part, const char *text) {
  g_byte_array_append(part->bytes, (const guint8 *)(text ? text : ""),
                      (guint)strlen(text ? text : "") + 1);
}

static void put_names(struct part *part, const struct ew_cycle_model *m) {
  static const guint8 zeros[8] = {0};
  put_text(part, m->fuel->name);
  for (int i = 0; i < m->pipes; i++)
    put_text(part, m->pipe[i].name);
  for (int i = 0; i < m->volumes; i++)
    put_text(part, m->volume[i].name);
  for (int i = 0; i < m->valves; i++)
    put_text(part, m->valve[i].name);
  g_byte_array_append(part->bytes, zeros, (8 - part->bytes->len % 8) % 8);
  g_assert(part->bytes->len % 8 == 0);
}

/* ---- 2. gas ---- */

static double *gas_numbers(struct ew_working_gas *gas) {
  return (double *)(void *)gas + 1; /* behind the name of its fuel */
}

void ew_cycle_plan_gas(const struct ew_cycle_plan *plan, struct ew_working_gas *gas) {
  gas->fuel.name = NULL;
  memcpy(gas_numbers(gas), plan->gas, sizeof plan->gas);
}

static gboolean make_gas(const struct ew_cycle_model *m, const struct ew_cycle_plan *like,
                         struct ew_working_gas *gas, GError **error) {
  double humidity = ew_humidity_ratio(m->ambient_pa, m->vapour_pa);
  if (like) {
    const gsize from = offsetof(struct ew_combustible, element_mol_kg);
    ew_cycle_plan_gas(like, gas);
    if (gas->equivalence == m->equivalence && gas->humidity_ratio == humidity &&
        memcmp((const char *)&gas->fuel + from, (const char *)m->fuel + from,
               sizeof gas->fuel - from) == 0)
      return TRUE;
  }
  return ew_working_gas_make(m->fuel, m->equivalence, humidity, gas, error);
}

/* ---- 4. ---- */

static void fill_header(struct ew_cycle_plan *p, const struct ew_cycle_model *m,
                        const struct ew_cycle_options *o, struct ew_working_gas *gas) {
  gboolean mixed = m->delivery == EW_FUEL_MIXED;
  memcpy(p->magic, EW_PLAN_MAGIC, sizeof p->magic);
  p->layout = EW_PLAN_LAYOUT;
  p->physics = EW_CYCLE_PHYSICS;
  p->junctions = m->junctions;
  p->grids = o->cell_m < FINE_BELOW_M ? 2 : 1;
  p->delivery = (int64_t)m->delivery;
  p->spark = (int64_t)o->spark;
  p->most_cycles = o->most_cycles;
  p->cell_m = o->cell_m;
  p->cfl = o->cfl;
  p->tolerance = o->tolerance;
  p->equivalence = m->equivalence;
  p->evaporated_from_gas = m->evaporated_from_gas;
  p->evaporated_per_k = m->evaporated_per_k;
  p->inlet_wall_k = m->inlet_wall_k + follows(m, m->inlet_follows);
  p->ambient_pa = m->ambient_pa;
  p->ambient_k = m->ambient_k;
  p->vapour_pa = m->vapour_pa;
  p->exhaust_back_pa = isnan(m->exhaust_back_pa) ? m->ambient_pa : m->exhaust_back_pa;
  p->flow_factor = m->flow_factor;
  p->woschni_factor = m->woschni_factor;
  p->pipe_friction = m->pipe_friction;
  p->pipe_heat = m->pipe_heat;
  p->combustion = m->combustion;
  p->friction = m->friction;
  double evaporated = ew_cycle_evaporated_from_gas(m);
  p->charge_fuel = mixed ? gas->fuel_share : 0;
  p->charge_k =
      mixed ? ew_working_gas_mixture_temperature_k(gas, m->ambient_k, evaporated) : m->ambient_k;
  p->ambient_kg_m3 = m->ambient_pa / (gas->gas_constant_j_kg_k[EW_GAS_AIR] * m->ambient_k);
  p->injected_j_kg =
      ew_combustible_enthalpy_j_kg(m->fuel, 298.15) - evaporated * m->fuel->latent_heat_j_kg;
  memcpy(p->gas, gas_numbers(gas), sizeof p->gas);
}

static struct ew_cycle_plan *seal(const struct part *part, const struct ew_cycle_plan *header) {
  gsize bytes = sizeof *header;
  for (int s = 0; s < EW_PLAN_SECTIONS; s++)
    bytes += part[s].bytes->len;
  struct ew_cycle_plan *plan = g_malloc0(bytes);
  *plan = *header;
  plan->bytes = (int64_t)bytes;
  plan->text_bytes = part[EW_PLAN_TEXT].bytes->len;
  ew_plan_canonical((char *)plan + EW_PLAN_SEALED_FROM, sizeof *plan - EW_PLAN_SEALED_FROM);
  for (int i = 0; i < EW_PLAN_TEXT; i++)
    plan->count[i] = (int64_t)(part[i].bytes->len / section_each[i]);
  ew_plan_offsets(plan, plan->at);
  g_assert((gsize)plan->at[EW_PLAN_TEXT] + part[EW_PLAN_TEXT].bytes->len == bytes);
  for (int i = 0; i < EW_PLAN_SECTIONS; i++)
    if (part[i].bytes->len > 0)
      memcpy((char *)plan + plan->at[i], part[i].bytes->data, part[i].bytes->len);
  ew_plan_digest_of(plan, plan->digest);
  return plan;
}

struct ew_cycle_plan *ew_plan_make(const struct ew_cycle_model *m, const struct ew_cycle_options *o,
                                   const struct ew_cycle_plan *cells_of_plan,
                                   const struct ew_cycle_plan *gas_of_plan, GError **error) {
  struct ew_working_gas gas;
  if (!ew_cycle_options_check(o, error) || !ew_cycle_model_check(m, error) ||
      !make_gas(m, gas_of_plan, &gas, error))
    return NULL;
  struct ew_cycle_plan header = {0};
  fill_header(&header, m, o, &gas);
  if (cells_of_plan && (cells_of_plan->grids != header.grids || !same_layout(m, cells_of_plan)))
    cells_of_plan = NULL;
  struct part part[EW_PLAN_SECTIONS];
  for (int s = 0; s < EW_PLAN_SECTIONS; s++)
    part[s] = (struct part){g_byte_array_new(), g_array_new(FALSE, FALSE, sizeof(struct span))};
  put_cylinders(&part[EW_PLAN_CYLINDERS], m);
  put_pipes(part, m, header.grids > 1, o->cell_m, cells_of_plan);
  for (int v = 0; v < m->volumes; v++) {
    struct ew_plan_volume volume = {m->volume[v].volume_m3, m->volume[v].exhaust != 0};
    added(&part[EW_PLAN_VOLUMES], &volume, sizeof volume);
  }
  put_valves(part, m);
  put_names(&part[EW_PLAN_TEXT], m);
  struct ew_cycle_plan *plan = seal(part, &header);
  for (int s = 0; s < EW_PLAN_SECTIONS; s++) {
    g_byte_array_unref(part[s].bytes);
    g_array_unref(part[s].spans);
  }
  return plan;
}

struct ew_cycle_plan *ew_cycle_plan_new(const struct ew_cycle_model *m,
                                        const struct ew_cycle_options *o,
                                        const struct ew_cycle_plan *like, GError **error) {
  return ew_plan_make(m, o, like, like, error);
}

void ew_cycle_plan_free(struct ew_cycle_plan *plan) {
  g_free(plan);
}

/* ---- asked of a plan ---- */

const char *ew_cycle_plan_name(const struct ew_cycle_plan *p, enum ew_plan_section section,
                               int index) {
  g_assert(index >= 0 && index < ew_plan_count(p, section));
  const char *at = ew_cycle_plan_section(p, EW_PLAN_TEXT);
  int before = 1 + index; /* the fuel's is the first */
  if (section != EW_PLAN_PIPES)
    before += ew_plan_count(p, EW_PLAN_PIPES);
  if (section == EW_PLAN_VALVES)
    before += ew_plan_count(p, EW_PLAN_VOLUMES);
  while (before-- > 0)
    at += strlen(at) + 1;
  return at;
}

double ew_cycle_plan_displacement_m3(const struct ew_cycle_plan *p) {
  double sum = 0;
  for (int i = 0; i < p->count[EW_PLAN_CYLINDERS]; i++) {
    const struct ew_cycle_cylinder *c = &ew_plan_cylinders(p)[i].shape;
    sum += G_PI / 4 * c->bore_m * c->bore_m * c->stroke_m;
  }
  return sum;
}
