/* A worker's share of a search: which one it is, and what it says at the end. Inside cli/search. */
#pragma once
#include "cli/command.h"
#include "desk/search.h"

/* --shard I/N, I from 1, or --shard launcher: from what Slurm or an mpirun left in the environment. FALSE with an error when neither can
 * be understood. *shard from 0. */
gboolean ew_call_shard(const struct ew_call *call, int *shard, int *shards, GError **error);
gboolean ew_call_search_share(const struct ew_call *call, const struct ew_search_setup *setup,
                              GError **error);
