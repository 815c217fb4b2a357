#include "capture/bytes.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <openssl/evp.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstring>

namespace lotwear {
namespace {

/// Closes with the scope.
class OpenFile {
 public:
  // A pipe that is named like a photo must not stop the run while it waits for a writer.
  explicit OpenFile(const std::filesystem::path& path)
      : descriptor_(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK)) {}
  OpenFile(const OpenFile&) = delete;
  OpenFile& operator=(const OpenFile&) = delete;
  ~OpenFile() {
    if (descriptor_ >= 0) ::close(descriptor_);
  }
  int descriptor() const { return descriptor_; }

 private:
  int descriptor_;
};

std::string why_not_opened(const std::filesystem::path& path, int error) {
  std::error_code ignored;
  if (error == ENOENT && std::filesystem::is_symlink(path, ignored)) {
    return "the link points to nothing; copy the photo itself here";
  }
  if (error == ENOENT || error == ENOTDIR) return "there is no such file; check the name";
  if (error == EACCES || error == EPERM) return "reading is not allowed; change the file's permissions";
  return fmt::format("cannot be opened ({}); copy the file again", std::strerror(error));
}

}  // namespace

Result<Bytes> read_photo_bytes(const std::filesystem::path& path, std::size_t at_most) {
  const auto problem = [&](std::string what) { return Problem{path.filename().string(), std::move(what)}; };
  const OpenFile file(path);
  if (file.descriptor() < 0) return problem(why_not_opened(path, errno));
  struct stat facts {};
  if (::fstat(file.descriptor(), &facts) != 0) {
    return problem(fmt::format("cannot be read ({}); copy the file again", std::strerror(errno)));
  }
  if (S_ISDIR(facts.st_mode)) return problem("is a folder, not a photo; name the photos in it or the folder alone");
  if (!S_ISREG(facts.st_mode)) return problem("is not an ordinary file; name a photo");
  const auto size = static_cast<std::size_t>(facts.st_size);
  if (size == 0) return problem("the file is empty; copy it from the phone again");
  if (size > at_most) {
    return problem(fmt::format("the file has {} MB, more than the {} MB a photo may have; export it as JPEG",
                               size >> 20, at_most >> 20));
  }
  Bytes bytes(size);
  for (std::size_t done = 0; done < size;) {
    const ssize_t got = ::read(file.descriptor(), bytes.data() + done, size - done);
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) return problem(fmt::format("cannot be read ({}); copy the file again", std::strerror(errno)));
    if (got == 0) return problem("the file became shorter while it was read; wait until it is copied, then run again");
    done += static_cast<std::size_t>(got);
  }
  return bytes;
}

std::string sha256_hex(ByteView bytes) {
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned length = 0;
  require(EVP_Digest(bytes.data(), bytes.size(), digest.data(), &length, EVP_sha256(), nullptr) == 1,
          "OpenSSL computes SHA-256");
  std::string hex;
  hex.reserve(2 * std::size_t{length});
  for (unsigned i = 0; i < length; ++i)
    hex += fmt::format("{:02x}", digest[i]);
  return hex;
}

}  // namespace lotwear
