#include "base/files.hpp"

#include <fmt/format.h>

#include <cerrno>
#include <cstring>
#include <fcntl.h>
#include <sys/stat.h>
#include <fstream>
#include <unistd.h>

#include "base/trouble.hpp"

namespace lotwear {

void write_file(const std::filesystem::path& target, std::string_view bytes) {
  namespace fs = std::filesystem;
  const fs::path folder = target.has_parent_path() ? target.parent_path() : fs::path(".");
  const auto fail = [&](const char* step) {
    throw Failure(fmt::format("{}: cannot {} ({}); check that the folder exists, is writable and has room",
                              target.string(), step, std::strerror(errno)));
  };
  std::string temporary = (folder / (".lotwear-" + target.filename().string() + ".XXXXXX")).string();
  const int file = ::mkstemp(temporary.data());
  if (file < 0) fail("be written");
  const auto abandon = [&](const char* step) {
    const int why = errno;
    ::close(file);
    ::unlink(temporary.c_str());
    errno = why;
    fail(step);
  };
  for (std::size_t done = 0; done < bytes.size();) {
    const ssize_t n = ::write(file, bytes.data() + done, bytes.size() - done);
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) abandon("be written");
    done += static_cast<std::size_t>(n);
  }
  if (::fchmod(file, 0644) != 0) abandon("be made readable");
  if (::fsync(file) != 0) abandon("be flushed to disk");
  ::close(file);
  if (::rename(temporary.c_str(), target.c_str()) != 0) {
    const int why = errno;
    ::unlink(temporary.c_str());
    errno = why;
    fail("be replaced");
  }
}

std::string read_file(const std::filesystem::path& source, std::size_t at_most) {
  std::error_code error;
  const auto size = std::filesystem::file_size(source, error);
  if (error) throw Failure(fmt::format("{}: cannot be read ({}); check the name", source.string(), error.message()));
  if (size > at_most) {
    throw Failure(fmt::format("{}: {} bytes is more than the {} this kind of file may have", source.string(), size, at_most));
  }
  std::ifstream in(source, std::ios::binary);
  std::string bytes(size, '\0');
  if (!in.read(bytes.data(), static_cast<std::streamsize>(size))) {
    throw Failure(fmt::format("{}: cannot be read; check its permissions", source.string()));
  }
  return bytes;
}

}  // namespace lotwear
