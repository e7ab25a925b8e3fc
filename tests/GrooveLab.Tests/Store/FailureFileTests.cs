using GrooveLab.Audio.Failures;
using GrooveLab.Store;
using Xunit;

namespace GrooveLab.Tests.Store;

public sealed class FailureFileTests : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("groovelab-failures-").FullName;
    private readonly FailureLog _failures = new();

    private string LogPath => Path.Combine(_folder, "data", "failures.log");

    [Fact]
    public void Write_NewFailure_HasItsStackOnceAndLaterItsCount()
    {
        var file = new FailureFile(LogPath);
        _failures.Add("composing a bar", Thrown());
        Assert.True(file.Write(_failures));
        _failures.Add("composing a bar", Thrown(), 100);
        Assert.True(file.Write(_failures));
        _failures.Add("composing a bar", Thrown());
        Assert.True(file.Write(_failures));
        var before = File.ReadAllText(LogPath);

        // One more after a hundred gets no line, but at the end the number is right.
        Assert.DoesNotContain("(102 times)", before, StringComparison.Ordinal);
        Assert.True(file.Write(_failures, last: true));
        Assert.True(file.Write(_failures, last: true));

        var text = File.ReadAllText(LogPath);
        Assert.Single(Found(text, "System.InvalidOperationException: no such chord"));
        Assert.Single(Found(text, "FailureFileTests.Thrown()"));
        Assert.Matches(@"^\d{4}-\d\d-\d\d \d\d:\d\d:\d\dZ groovelab \d+\.\d+\.\d+: composing a bar: no such chord\r?\n", text);
        Assert.Single(Found(text, "(101 times)"));
        Assert.Single(Found(text, "(102 times)"));
    }

    [Fact]
    public void Write_NothingCaught_MakesNoFile()
    {
        Assert.True(new FailureFile(LogPath).Write(_failures, last: true));
        Assert.False(Directory.Exists(Path.GetDirectoryName(LogPath)));
    }

    [Fact]
    public void Write_FileThatHasGrownLong_KeepsTheNewerHalf()
    {
        Directory.CreateDirectory(Path.GetDirectoryName(LogPath)!);
        File.WriteAllLines(LogPath, Enumerable.Range(0, 30_000).Select(line => $"line {line}"));
        _failures.Add("deed", "failed");

        Assert.True(new FailureFile(LogPath).Write(_failures));

        var lines = File.ReadAllLines(LogPath);
        Assert.InRange(new FileInfo(LogPath).Length, 100_000, 200_000);
        Assert.StartsWith("line ", lines[0], StringComparison.Ordinal);
        Assert.Equal("line 29999", lines[^2]);
        Assert.EndsWith("deed: failed", lines[^1], StringComparison.Ordinal);
    }

    [Fact]
    public void Write_FolderThatCannotBeMade_IsFalseAndTriedAgain()
    {
        File.WriteAllText(Path.Combine(_folder, "data"), "a file where the folder would be");
        var file = new FailureFile(LogPath);
        _failures.Add("deed", "failed");

        Assert.False(file.Write(_failures));
        File.Delete(Path.Combine(_folder, "data"));
        Assert.True(file.Write(_failures));
        Assert.Single(File.ReadAllLines(LogPath));
    }

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    private static IEnumerable<int> Found(string text, string words)
    {
        for (var at = text.IndexOf(words, StringComparison.Ordinal); at >= 0; at = text.IndexOf(words, at + 1, StringComparison.Ordinal))
        {
            yield return at;
        }
    }

    private static InvalidOperationException Thrown()
    {
        try
        {
            throw new InvalidOperationException("no such chord");
        }
        catch (InvalidOperationException thrown)
        {
            return thrown;
        }
    }
}
