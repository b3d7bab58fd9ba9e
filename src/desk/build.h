/* The build at the desk: files into the book, what the shop has learnt over all builds, what blocks
 * the next step, and the sheets of a build. */
#pragma once
#include "book/attachment.h"
#include "book/build.h"
#include "book/ledger.h"
#include "desk/loaded.h"
#include "build/check.h"
#include "build/due.h"
#include "build/lash.h"

/* An engine of the book with its last build. */
struct ew_bench_build {
  gint64 engine_id;
  char *engine_name;
  struct ew_engine engine;
  struct ew_build *build;
};
/* engine NULL: the only one or the last added. With `needed` FALSE an engine without a build gives an
 * empty build of id 0. */
gboolean ew_bench_build_open(struct ew_book *book, const char *engine, gboolean needed,
                             struct ew_bench_build *bench, GError **error);
void ew_bench_build_clear(struct ew_bench_build *bench);

/* Common-practice templates that the program brings: "targets", "checklists"; in the language of this thread where there
 * is one, else in English. What a build began with stays in the book as it is. */
const char *ew_build_own_template(const char *which, gsize *size);
struct ew_build_start_ask {
  const struct ew_node *facts; /* of EW_BUILD_FACTS; `where`: how errors call them */
  const char *where;
  const char *targets, *lists; /* template files; NULL: the program's own */
};
/* A new build of an engine (name or id) begins with its facts and templates. *added: records kept. */
gboolean ew_bench_build_start(struct ew_book *book, const char *engine, const char *name,
                              const struct ew_build_start_ask *ask, guint *added, GError **error);

struct ew_build_loaded {
  guint builds, added, there; /* records new, and those that stood there already */
  GPtrArray *engines_added;   /* of char*: the file's own engines that the book had not */
  GPtrArray *
      engines_unlike; /* of char*: those that stand in the book otherwise, and were left as they stand */
};
void ew_build_loaded_clear(struct ew_build_loaded *loaded);
/* A build file into the book, in one transaction: `engine` (a name, or a map that describes one) or
 * `engine_file`, `targets`, `checklists` (paths from the file's own folder), `attach`, and the lists
 * of ew_build_read_file; or `builds:`, a list of such maps. The last build of the engine goes on when
 * it has the same name, else a new one begins. */
gboolean ew_build_load_file(struct ew_book *book, const char *path, struct ew_build_loaded *loaded,
                            GError **error);

/* Growth of one side from the builds of the book with the same block, head and rocker, but for the
 * build `without` (0: none); also the names of these builds in *from (may be NULL). */
struct ew_growth ew_build_growth(struct ew_book *book, const struct ew_build_facts *facts,
                                 gint64 without, int side, GPtrArray **from);

/* What the last like pulls of the book gave. FALSE with *error only when the book fails. */
gboolean ew_build_result_of(struct ew_desk *desk, gint64 engine_id, struct ew_build_result *result,
                            GError **error);

/* What must still be done before an engine may fire or be loaded: ew_message*. NULL
 * without *error when the engine has no build in this book, so that nothing is known. */
GPtrArray *ew_build_blocks(struct ew_book *book, gint64 engine_id, enum ew_build_gate gate,
                           GError **error);

struct ew_family_row {
  char *engine, *build;
  double torque_per_volume_n_m_m3, power_w, specific_fuel_kg_j, oil_pressure_pa;
  double turning_torque_n_m; /* running, last stage */
  int pulls;
};
/* Engines of a tag side by side: torque by volume and fuel rate at their peaks, oil pressure at peak
 * power, turning torque as built. NaN where nothing is known. */
GArray *ew_build_family(struct ew_desk *desk, const char *family, GError **error);
