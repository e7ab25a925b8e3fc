using System.Collections.Concurrent;
using GrooveLab.Audio.BuiltInSounds;
using Xunit;

namespace GrooveLab.Audio.Tests.BuiltInSounds;

/// <summary>Tests of the cache file of the built-in bank.</summary>
public sealed class BuiltInBankCacheTests : IDisposable
{
    private readonly string _folder = Path.Combine(Path.GetTempPath(), "groovelab-bank-" + Guid.NewGuid().ToString("N"));

    public void Dispose()
    {
        if (Directory.Exists(_folder))
        {
            Directory.Delete(_folder, recursive: true);
        }
    }

    [Fact]
    public void LoadOrCreate_EmptyCache_WritesOneWholeFile()
    {
        Shares told = new();
        var bank = BuiltInBank.LoadOrCreate(_folder, progress: told);

        Assert.True(told.Seen.Count > 100);
        Assert.Equal(Enumerable.Range(1, told.Seen.Count).Select(job => (double)job / told.Seen.Count), told.Seen.Order());
        var file = Assert.Single(Directory.GetFiles(_folder));
        Assert.Equal(BuiltInBank.CacheFileName, Path.GetFileName(file));
        Assert.Equal(bank, File.ReadAllBytes(file));
        Assert.Equal(BankUnderTest.Instance.Bytes, bank);
    }

    [Fact]
    public void LoadOrCreate_KeptFile_IsReadAndNotMadeAgain()
    {
        // An intact bank with other content in place of the cache: only reading the cache returns it.
        var other = SoundFontWriter.Write(new("Other", "Other", "Other"), []);
        Directory.CreateDirectory(_folder);
        File.WriteAllBytes(Path.Combine(_folder, BuiltInBank.CacheFileName), other);

        Shares told = new();
        Assert.Equal(other, BuiltInBank.LoadOrCreate(_folder, progress: told));
        Assert.Empty(told.Seen);
    }

    [Theory]
    [InlineData(0)]
    [InlineData(11)]
    [InlineData(5000)]
    [InlineData(-1)]
    public void LoadOrCreate_DamagedFile_MakesTheBankAnew(int cutTo)
    {
        var bank = BankUnderTest.Instance.Bytes.ToArray();
        var file = Path.Combine(_folder, BuiltInBank.CacheFileName);
        Directory.CreateDirectory(_folder);
        bank[bank.Length / 2] ^= 1;
        File.WriteAllBytes(file, cutTo < 0 ? bank : bank[..cutTo]);

        Assert.Equal(BankUnderTest.Instance.Bytes, BuiltInBank.LoadOrCreate(_folder));
        Assert.Equal(BankUnderTest.Instance.Bytes, File.ReadAllBytes(file));
    }

    [Fact]
    public void LoadOrCreate_CacheOfAnotherBuild_IsNotRead()
    {
        // Intact, but from other code, which may have calculated differently.
        Directory.CreateDirectory(_folder);
        File.WriteAllBytes(
            Path.Combine(_folder, BuiltInBank.CacheFileNameOf(Guid.NewGuid())), SoundFontWriter.Write(new("Other", "Other", "Other"), []));

        Assert.Equal(BankUnderTest.Instance.Bytes, BuiltInBank.LoadOrCreate(_folder));
        Assert.Contains(
            typeof(BuiltInBank).Module.ModuleVersionId.ToString("N"), BuiltInBank.CacheFileName, StringComparison.Ordinal);
    }

    [Fact]
    public void LoadOrCreate_ManyBuilds_TheNewestStay()
    {
        Directory.CreateDirectory(_folder);
        string[] old = [.. Enumerable.Range(0, 4).Select(i => Path.Combine(_folder, BuiltInBank.CacheFileNameOf(Guid.NewGuid())))];
        for (var i = 0; i < old.Length; i++)
        {
            File.WriteAllBytes(old[i], [1]);
            File.SetLastWriteTimeUtc(old[i], DateTime.UtcNow.AddDays(i - 10));
        }

        var other = Path.Combine(_folder, "a-bank-of-the-users.sf2");
        File.WriteAllBytes(other, [1]);
        File.SetLastWriteTimeUtc(other, DateTime.UtcNow.AddDays(-100));
        BuiltInBank.LoadOrCreate(_folder);

        Assert.Equal(
            [.. new[] { Path.Combine(_folder, BuiltInBank.CacheFileName), old[3], old[2], other }.Order(StringComparer.Ordinal)],
            Directory.GetFiles(_folder).Order(StringComparer.Ordinal));
    }

    [Fact]
    public void LoadOrCreate_FolderThatCannotBe_StillGivesTheBank()
    {
        Directory.CreateDirectory(_folder);
        var blocked = Path.Combine(_folder, "file");
        File.WriteAllText(blocked, "a file in place of a folder");

        Assert.Equal(BankUnderTest.Instance.Bytes, BuiltInBank.LoadOrCreate(blocked));
        Assert.Single(Directory.GetFiles(_folder));
    }

    private sealed class Shares : IProgress<double>
    {
        public ConcurrentBag<double> Seen { get; } = [];

        public void Report(double value) => Seen.Add(value);
    }
}
