#include "base/files.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <fstream>

#include "base/trouble.hpp"

namespace lotwear {

namespace {

/// False, with errno set, where not all of it could be written.
bool write_all(int file, std::string_view bytes) {
  for (std::size_t done = 0; done < bytes.size();) {
    const ssize_t n = ::write(file, bytes.data() + done, bytes.size() - done);
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) return false;
    done += static_cast<std::size_t>(n);
  }
  return true;
}

[[noreturn]] void cannot(const std::filesystem::path& target, const char* step) {
  throw Failure(fmt::format("{}: cannot {} ({}); check that the folder exists, is writable and has room",
                            target.string(), step, std::strerror(errno)));
}

}  // namespace

void write_file(const std::filesystem::path& target, std::string_view bytes) {
  namespace fs = std::filesystem;
  const fs::path folder = target.has_parent_path() ? target.parent_path() : fs::path(".");
  const auto fail = [&](const char* step) { cannot(target, step); };
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
  if (!write_all(file, bytes)) abandon("be written");
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

void append_to_file(const std::filesystem::path& target, std::string_view bytes) {
  std::error_code error;
  const bool fresh = !std::filesystem::exists(target, error);
  const int file = ::open(target.c_str(), O_WRONLY | O_APPEND | O_CREAT | O_CLOEXEC, 0644);
  if (file < 0) cannot(target, "be written");
  const off_t start = ::lseek(file, 0, SEEK_END);
  if (!write_all(file, bytes) || ::fsync(file) != 0) {
    const int why = errno;
    [[maybe_unused]] const int cut = ::ftruncate(file, start);
    ::close(file);
    errno = why;
    cannot(target, "be written and flushed to disk");
  }
  ::close(file);
  if (!fresh) return;
  // the name of a new file is on the disk when its folder is
  const std::string folder = target.has_parent_path() ? target.parent_path().string() : ".";
  const int held = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (held < 0) return;
  ::fsync(held);
  ::close(held);
}

std::string read_file(const std::filesystem::path& source, std::size_t at_most) {
  std::error_code error;
  const auto size = std::filesystem::file_size(source, error);
  if (error) throw Failure(fmt::format("{}: cannot be read ({}); check the name", source.string(), error.message()));
  if (size > at_most) {
    throw Failure(
        fmt::format("{}: {} bytes is more than the {} this kind of file may have", source.string(), size, at_most));
  }
  std::ifstream in(source, std::ios::binary);
  std::string bytes(size, '\0');
  if (!in.read(bytes.data(), static_cast<std::streamsize>(size))) {
    throw Failure(fmt::format("{}: cannot be read; check its permissions", source.string()));
  }
  return bytes;
}

}  // namespace lotwear
