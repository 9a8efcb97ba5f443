/* Two doubles in one register. What is done to both is the same operation, and so are the bits. */
#ifndef SWH_MODEL_BASE_PAIR_H
#define SWH_MODEL_BASE_PAIR_H

typedef double pair __attribute__((vector_size(16)));

#endif
