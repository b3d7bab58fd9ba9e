/* Vectors of doubles for the kernels: GCC vector extensions, EW_VECTOR doubles wide (2, 4 or 8).
 *
 * Included only by files that are compiled once per level with -ffp-contract=off. Every operation is
 * one IEEE operation per element and every function below is a fixed sequence of them, so that each
 * width gives the same bits. */
#pragma once
#include <math.h>
#include <stdint.h>
#if defined(__x86_64__)
#include <immintrin.h>
#elif defined(EW_NEON)
#include <arm_neon.h>
#endif

#ifndef EW_VECTOR
#define EW_VECTOR 2
#endif

typedef double V __attribute__((vector_size(EW_VECTOR * 8), aligned(8), may_alias));
typedef int64_t I __attribute__((vector_size(EW_VECTOR * 8), aligned(8), may_alias));
typedef uint64_t U __attribute__((vector_size(EW_VECTOR * 8), aligned(8), may_alias));

#define INLINE static inline __attribute__((always_inline, unused))

/* The same bits read as whole numbers, and back. */
INLINE I bits_of(V x) {
  return (I)x;
}
INLINE V of_bits(I x) {
  return (V)x;
}

INLINE V load(const double *p) {
  return *(const V *)p;
}
INLINE void store(double *p, V v) {
  *(V *)p = v;
}
typedef V S; /* what is added to step by step */
#define load_sum  load
#define store_sum store
INLINE S added(S a, V b) {
  return a + b;
}
INLINE S divided(S a, V b) {
  return a / b;
}
INLINE V narrowed(S a) {
  return a;
}
INLINE V splat(double x) {
  return x - (V){0};
}

/* Comparison, choice, least and most; NaN counts as "not over". The instructions named here do
 * exactly what the plain version at the end says. */
#if EW_VECTOR == 8 && defined(__AVX512DQ__)
typedef __mmask8 M;
INLINE M over(V a, V b) {
  return _mm512_cmp_pd_mask((__m512d)a, (__m512d)b, _CMP_GT_OQ);
}
INLINE V pick(M mask, V yes, V no) {
  return (V)_mm512_mask_blend_pd(mask, (__m512d)no, (__m512d)yes);
}
INLINE V least(V a, V b) {
  return (V)_mm512_min_pd((__m512d)a, (__m512d)b);
}
INLINE V most(V a, V b) {
  return (V)_mm512_max_pd((__m512d)a, (__m512d)b);
}
INLINE V root(V x) {
  return (V)_mm512_sqrt_pd((__m512d)x);
}
INLINE int any(M mask) {
  return (mask & 0xff) != 0;
}
#elif EW_VECTOR == 4 && defined(__AVX512VL__) && defined(__AVX512DQ__)
typedef __mmask8 M;
INLINE M over(V a, V b) {
  return _mm256_cmp_pd_mask((__m256d)a, (__m256d)b, _CMP_GT_OQ);
}
INLINE V pick(M mask, V yes, V no) {
  return (V)_mm256_mask_blend_pd(mask, (__m256d)no, (__m256d)yes);
}
INLINE V least(V a, V b) {
  return (V)_mm256_min_pd((__m256d)a, (__m256d)b);
}
INLINE V most(V a, V b) {
  return (V)_mm256_max_pd((__m256d)a, (__m256d)b);
}
INLINE V root(V x) {
  return (V)_mm256_sqrt_pd((__m256d)x);
}
INLINE int any(M mask) {
  return (mask & 0xf) != 0;
}
#elif EW_VECTOR == 4 && defined(__AVX__)
typedef I M;
INLINE M over(V a, V b) {
  return a > b;
}
INLINE V pick(M mask, V yes, V no) {
  return (V)_mm256_blendv_pd((__m256d)no, (__m256d)yes, (__m256d)mask);
}
INLINE V least(V a, V b) {
  return (V)_mm256_min_pd((__m256d)a, (__m256d)b);
}
INLINE V most(V a, V b) {
  return (V)_mm256_max_pd((__m256d)a, (__m256d)b);
}
INLINE V root(V x) {
  return (V)_mm256_sqrt_pd((__m256d)x);
}
INLINE int any(M mask) {
  return _mm256_movemask_pd((__m256d)mask) != 0;
}
#elif EW_VECTOR == 2 && defined(__SSE4_1__)
typedef I M;
INLINE M over(V a, V b) {
  return a > b;
}
INLINE V pick(M mask, V yes, V no) {
  return (V)_mm_blendv_pd((__m128d)no, (__m128d)yes, (__m128d)mask);
}
INLINE V least(V a, V b) {
  return (V)_mm_min_pd((__m128d)a, (__m128d)b);
}
INLINE V most(V a, V b) {
  return (V)_mm_max_pd((__m128d)a, (__m128d)b);
}
INLINE V root(V x) {
  return (V)_mm_sqrt_pd((__m128d)x);
}
INLINE int any(M mask) {
  return _mm_movemask_pd((__m128d)mask) != 0;
}
#elif EW_VECTOR == 2 && defined(EW_NEON)
/* Not vminq_f64 and vmaxq_f64: they hand a NaN on, and order zeros. */
typedef uint64x2_t M;
INLINE M over(V a, V b) {
  return vcgtq_f64((float64x2_t)a, (float64x2_t)b);
}
INLINE V pick(M mask, V yes, V no) {
  return (V)vbslq_f64(mask, (float64x2_t)yes, (float64x2_t)no);
}
INLINE V least(V a, V b) {
  return pick(over(b, a), a, b);
}
INLINE V most(V a, V b) {
  return pick(over(a, b), a, b);
}
INLINE V root(V x) {
  return (V)vsqrtq_f64((float64x2_t)x);
}
INLINE int any(M mask) {
  return vmaxvq_u32((uint32x4_t)mask) != 0;
}
#else
typedef I M;
INLINE M over(V a, V b) {
  return a > b;
}
INLINE V pick(M mask, V yes, V no) {
  return (V)(((I)yes & mask) | ((I)no & ~mask));
}
INLINE V least(V a, V b) {
  return pick(a < b, a, b);
}
INLINE V most(V a, V b) {
  return pick(a > b, a, b);
}
INLINE V root(V x) {
  V y;
  for (int i = 0; i < EW_VECTOR; i++)
    y[i] = sqrt(x[i]);
  return y;
}
INLINE int any(M mask) {
  int64_t seen = 0;
  for (int i = 0; i < EW_VECTOR; i++)
    seen |= mask[i];
  return seen != 0;
}
#endif

#include "cycle/backend/lane_math.h"
