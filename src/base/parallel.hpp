#pragma once
// Results are stored by index, never in order of arrival, so the thread count cannot show in the output.

#include <atomic>
#include <exception>
#include <mutex>
#include <thread>
#include <vector>

namespace lotwear {

/// Calls `work(i)` for i in [0, count) on up to `threads` threads. The first exception (by index) is rethrown at the end.
template <class Work>
void parallel_for(std::size_t count, unsigned threads, Work&& work) {
  std::atomic<std::size_t> next{0};
  std::mutex guard;
  std::exception_ptr failure;
  std::size_t failed_at = count;
  const auto run = [&] {
    for (std::size_t i = next++; i < count; i = next++) {
      try {
        work(i);
      } catch (...) {
        const std::lock_guard lock(guard);
        if (i < failed_at) {
          failed_at = i;
          failure = std::current_exception();
        }
      }
    }
  };
  std::vector<std::jthread> pool;
  for (unsigned t = 1; t < threads && t < count; ++t) pool.emplace_back(run);
  run();
  pool.clear();
  if (failure) std::rethrow_exception(failure);
}

}  // namespace lotwear
