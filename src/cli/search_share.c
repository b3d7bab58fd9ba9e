/* Workers of a search: a share each (engine search --shard), their files collected (engine collect). */
#include "cli/search_share.h"
#include "base/error.h"
#include "base/words.h"
#include "desk/kept_collect.h"
#include <string.h>

#define SHARDS_MOST 1000000

/* ---- which one ---- */

/* A whole number of the environment; FALSE when it is not there. Anything else there is refused. */
static gboolean whole(const char *name, gint64 *value, gboolean *there, GError **error) {
  const char *text = g_getenv(name);
  *there = text && *text;
  if (!*there)
    return TRUE;
  return g_ascii_string_to_signed(text, 10, 0, SHARDS_MOST, value, NULL) ||
         ew_refuse(error, "--shard launcher: %s is '%s'; a number from 0 to %d was expected", name,
                   text, SHARDS_MOST);
}

/* A number and how many there are; both or neither. */
static gboolean pair(const char *of, const char *count, gint64 *i, gint64 *n, GError **error) {
  gboolean has_i, has_n;
  *i = 0;
  *n = 1;
  if (!whole(of, i, &has_i, error) || !whole(count, n, &has_n, error))
    return FALSE;
  if (has_i != has_n)
    return ew_refuse(error, "--shard launcher: %s is set and %s is not", has_i ? of : count,
                     has_i ? count : of);
  if (*n < 1 || *i >= *n)
    return ew_refuse(error, "--shard launcher: %s is %" G_GINT64_FORMAT " of %s %" G_GINT64_FORMAT,
                     of, *i, count, *n);
  return TRUE;
}

/* An array of jobs may begin anywhere, and each of its jobs may have several tasks. */
static gboolean from_launcher(int *shard, int *shards, GError **error) {
  gint64 job = 0, jobs = 1, task = 0, tasks = 1, first = 0;
  gboolean array = g_getenv("SLURM_ARRAY_TASK_ID") != NULL, has_first;
  if (!whole("SLURM_ARRAY_TASK_MIN", &first, &has_first, error))
    return FALSE;
  if (array) {
    gboolean there;
    if (!whole("SLURM_ARRAY_TASK_ID", &job, &there, error) ||
        !whole("SLURM_ARRAY_TASK_COUNT", &jobs, &there, error))
      return FALSE;
    job -= first;
    if (!there || job < 0 || job >= jobs)
      return ew_refuse(error,
                       "--shard launcher: the array's jobs are not numbered one by one (job "
                       "%" G_GINT64_FORMAT " of %" G_GINT64_FORMAT
                       " after the first): give --array "
                       "without steps, and submit the whole array again for jobs that failed",
                       job, jobs);
  }
  gboolean mpi = g_getenv("OMPI_COMM_WORLD_RANK") != NULL;
  if (!(mpi ? pair("OMPI_COMM_WORLD_RANK", "OMPI_COMM_WORLD_SIZE", &task, &tasks, error)
            : pair("SLURM_PROCID", "SLURM_NTASKS", &task, &tasks, error)))
    return FALSE;
  if (!array && !mpi && !g_getenv("SLURM_PROCID"))
    return ew_refuse(error, "--shard launcher: neither Slurm nor mpirun started this: give --shard "
                            "I/N, 1/4 to 4/4 for four workers");
  if (jobs * tasks > SHARDS_MOST)
    return ew_refuse(error, "--shard launcher: %" G_GINT64_FORMAT " workers; %d at most",
                     jobs * tasks, SHARDS_MOST);
  *shard = (int)(job * tasks + task);
  *shards = (int)(jobs * tasks);
  return TRUE;
}

/* --shard I/N, I from 1, or --shard launcher: from what Slurm or an mpirun left in the environment. FALSE with an error when neither can
 * be understood. *shard from 0. */
static gboolean call_shard(const struct ew_call *call, int *shard, int *shards, GError **error) {
  const char *text = ew_call_option(call, "shard");
  if (strcmp(text, "launcher") == 0)
    return from_launcher(shard, shards, error);
  g_auto(GStrv) parts = g_strsplit(text, "/", 3);
  gint64 i, n;
  if (g_strv_length(parts) != 2 ||
      !g_ascii_string_to_signed(parts[1], 10, 1, SHARDS_MOST, &n, NULL) ||
      !g_ascii_string_to_signed(parts[0], 10, 1, n, &i, NULL))
    return ew_refuse(error,
                     "--shard %s: give I/N, 1/4 to 4/4 for four workers, or 'launcher' where Slurm "
                     "or mpirun starts them",
                     text);
  *shard = (int)i - 1;
  *shards = (int)n;
  return TRUE;
}

/* ---- a share ---- */

gboolean ew_call_search_share(const struct ew_call *call, const struct ew_search_setup *setup,
                              GError **error) {
  struct ew_search_share share;
  int shard = 0, shards = 1;
  if (!call_shard(call, &shard, &shards, error) ||
      !ew_search_share(setup, shard, shards, &share, error))
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_integer(&json, "shard", shard + 1);
    ew_json_integer(&json, "shards", shards);
    ew_json_integer(&json, "designs", share.designs);
    ew_json_integer(&json, "unsound", share.unsound);
    ew_json_integer(&json, "runs_taken", share.kept.taken);
    ew_answer_end(&json);
    return TRUE;
  }
  ew_say("Share %d of %d: %d of %d first designs run into %s, %d of them did not settle.",
         shard + 1, shards, share.designs, share.of, setup->keep, share.unsound);
  if (share.kept.taken > 0)
    ew_say("Kept before and taken: %" G_GINT64_FORMAT " runs.", share.kept.taken);
  ew_say("When all shares are done: 'engine collect' makes one file of theirs, and 'engine search' "
         "with --keep and that file answers.");
  return TRUE;
}

/* ---- collected ---- */

static gboolean run_collect(const struct ew_call *call, GError **error) {
  struct ew_kept_collected counts;
  g_autoptr(GPtrArray) files = g_ptr_array_new();
  for (guint i = 1; ew_call_argument(call, i); i++)
    g_ptr_array_add(files, g_strdup(ew_call_argument(call, i)));
  g_ptr_array_set_free_func(files, g_free);
  const char *into = ew_call_argument(call, 0);
  if (!ew_kept_collect((char *const *)files->pdata, (int)files->len, into, EW_SEARCH_RUNS_HEAD,
                       &counts, error))
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_integer(&json, "runs", counts.records);
    ew_json_integer(&json, "twice", counts.twice);
    ew_json_integer(&json, "older", counts.older);
    ew_json_integer(&json, "damaged", counts.damaged);
    ew_answer_end(&json);
    return TRUE;
  }
  ew_say("%" G_GINT64_FORMAT " runs in %s.", counts.records, into);
  if (counts.older > 0)
    ew_say("Left out: %" G_GINT64_FORMAT " of another physics version.", counts.older);
  if (counts.damaged > 0)
    ew_say("Left out: %" G_GINT64_FORMAT
           " damaged or torn lines; their runs are made again when the "
           "share is run again.",
           counts.damaged);
  return TRUE;
}

const struct ew_command ew_command_engine_collect = {
    .name = "engine collect",
    .summary = EW_TEXT("Make one file of the runs that several workers of a search kept"),
    .takes = EW_TEXT("INTO FILE..."),
    .least = 2,
    .most = -1,
    .run = run_collect,
    .examples = "engine collect runs.txt runs-1.txt runs-2.txt runs-3.txt",
    .more =
        EW_TEXT("Each run is in it once, in an order of its own: the same bytes however the work "
                "was shared out. What "
                "INTO holds already counts only when it is named among the files too.")};
