#include <cstdio>

int main() {
  std::puts("lotwear " LOTWEAR_VERSION);
  return 0;
}
