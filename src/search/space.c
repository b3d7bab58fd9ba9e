/* Halton's sequence with permuted digits: see the header. Digit k of dimension j is permuted by a shuffle whose seed is
 * made of (seed, j, k). Digits go on until they no longer change a double. */
#include "search/space.h"

static const int prime[EW_SPACE_DIMENSIONS] = {
    2,  3,  5,  7,  11, 13,  17,  19,  23,  29,  31,  37,  41,  43,  47,  53,  59,  61,  67,  71,
    73, 79, 83, 89, 97, 101, 103, 107, 109, 113, 127, 131, 137, 139, 149, 151, 157, 163, 167, 173};

/* SplitMix64 (G. L. Steele, D. Lea, C. H. Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014): the same
 * numbers on every machine. `state` is the caller's; any value begins a sequence. */
static guint64 splitmix(guint64 *state) {
  guint64 z = *state += 0x9e3779b97f4a7c15u;
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
  z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
  return z ^ (z >> 31);
}

double ew_random_share(guint64 *state) {
  return (double)(splitmix(state) >> 11) * 0x1p-53;
}

int ew_random_below(guint64 *state, int count) {
  g_assert(count > 0);
  return (int)(ew_random_share(state) * count);
}

guint64 ew_random_seed(guint64 seed, guint64 part) {
  guint64 state = seed ^ (part * 0xd1342543de82ef95u + 1);
  return splitmix(&state);
}

/* Where this digit goes: the permutation's entry, by a shuffle from its own seed. */
static int permuted(guint64 seed, int base, int digit) {
  int place[173];
  for (int i = 0; i < base; i++)
    place[i] = i;
  for (int i = base - 1; i > 0; i--) {
    int other = ew_random_below(&seed, i + 1), held = place[i];
    place[i] = place[other];
    place[other] = held;
  }
  return place[digit];
}

static double radical_inverse(guint64 seed, guint64 number, int base) {
  g_assert(base >= 2);
  double sum = 0, part = 1.0 / base;
  for (int k = 0; part > 0x1p-54; k++, part /= base, number /= (guint64)base)
    sum += part * permuted(ew_random_seed(seed, (guint64)k), base, (int)(number % (guint64)base));
  return MIN(sum, 1 - 0x1p-53);
}

void ew_space_point(guint64 seed, guint64 number, int dimensions, double *point) {
  g_assert(dimensions >= 0 && dimensions <= EW_SPACE_DIMENSIONS);
  for (int j = 0; j < dimensions; j++)
    point[j] = radical_inverse(ew_random_seed(seed, (guint64)j + 1000), number, prime[j]);
}
