/* Backends that each break one sentence of the contract, made of "base": that the checks can fail. */
#pragma once
#include "cycle/backend/backend.h"

struct broken {
  const char *says;
  struct ew_cycle_backend backend;
};
#define BROKEN 7
extern struct broken broken[BROKEN];
