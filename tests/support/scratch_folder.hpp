#pragma once
// A folder of its own for the running test, empty at the start and gone at the end.

#include <gtest/gtest.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <span>
#include <string>

namespace lotwear::test {

class ScratchFolder {
 public:
  ScratchFolder() {
    const auto* info = ::testing::UnitTest::GetInstance()->current_test_info();
    const std::string name =
        std::string(info->test_suite_name()) + "-" + info->name() + "-" + std::to_string(::getpid());
    std::string safe = name;
    for (char& c : safe)
      c = c == '/' ? '_' : c;
    path_ = std::filesystem::temp_directory_path() / ("lotwear-" + safe);
    std::filesystem::remove_all(path_);
    std::filesystem::create_directories(path_);
  }
  ScratchFolder(const ScratchFolder&) = delete;
  ScratchFolder& operator=(const ScratchFolder&) = delete;
  ~ScratchFolder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }

  const std::filesystem::path& path() const { return path_; }
  std::filesystem::path operator/(const std::string& name) const { return path_ / name; }

  /// Writes the bytes into a file of the folder (folders in between are made) and gives its path.
  std::filesystem::path put(const std::string& name, std::span<const std::uint8_t> bytes) const {
    const std::filesystem::path file = path_ / name;
    std::filesystem::create_directories(file.parent_path());
    std::ofstream out(file, std::ios::binary);
    out.write(reinterpret_cast<const char*>(bytes.data()), static_cast<std::streamsize>(bytes.size()));
    return file;
  }
  std::filesystem::path put(const std::string& name, const std::string& text) const {
    return put(name, std::span(reinterpret_cast<const std::uint8_t*>(text.data()), text.size()));
  }

 private:
  std::filesystem::path path_;
};

}  // namespace lotwear::test
