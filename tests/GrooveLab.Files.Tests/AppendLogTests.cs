using System.Text;
using Xunit;

namespace GrooveLab.Files.Tests;

public sealed class AppendLogTests : Sandbox
{
    private static readonly DateTimeOffset Evening = new(2026, 3, 14, 20, 15, 0, TimeSpan.Zero);

    [Fact]
    public void Append_Records_AreReadBackWhileTheLogIsOpen()
    {
        using var log = AppendLog.Begin(Folder, "practice");

        Assert.Null(log.Append("tempo 96"));
        Assert.Null(log.Append("größer"));

        var content = AppendLog.Read(log.Path);
        Assert.Equal(["tempo 96", "größer"], content.Records);
        Assert.False(content.IsTorn);
        Assert.Null(log.Trouble);
    }

    [Fact]
    public void Append_RecordOfTwoLines_IsRefused()
    {
        using var log = AppendLog.Begin(Folder, "practice");

        Assert.Throws<ArgumentException>(() => log.Append("one\ntwo"));
        Assert.Throws<ArgumentException>(() => log.Append("one\r"));
        Assert.Empty(AppendLog.Read(log.Path).Records);
    }

    [Fact]
    public void Read_TornAnywhere_GivesTheWholeRecordsBefore()
    {
        var bytes = Encoding.UTF8.GetBytes("eins\nzwölf\n€\n");
        for (var length = 0; length <= bytes.Length; length++)
        {
            File.WriteAllBytes(At("a.log"), bytes[..length]);

            var content = AppendLog.Read(At("a.log"));

            var whole = Encoding.UTF8.GetString(bytes, 0, bytes.AsSpan(0, length).LastIndexOf((byte)'\n') + 1);
            Assert.Equal(whole.Split('\n', StringSplitOptions.RemoveEmptyEntries), content.Records);
            Assert.Equal(length > 0 && bytes[length - 1] != '\n', content.IsTorn);
            Assert.Equal(0, content.Damaged);
        }
    }

    [Fact]
    public void Read_LinesThatAreNoText_AreLeftOutAndCounted()
    {
        File.WriteAllBytes(At("a.log"), [.. "one\n"u8, 0xC3, (byte)'\n', .. "two\n"u8, 0, 0, (byte)'\n', .. "three\n"u8, 0, 0]);

        var content = AppendLog.Read(At("a.log"));

        Assert.Equal(["one", "two", "three"], content.Records);
        Assert.Equal(2, content.Damaged);
        Assert.True(content.IsTorn);
    }

    [Fact]
    public void Read_LongLog_IsBounded()
    {
        File.WriteAllText(At("a.log"), "one\ntwo\nthree\n");

        var content = AppendLog.Read(At("a.log"), mostBytes: 9);

        Assert.Equal(["one", "two"], content.Records);
        Assert.True(content.IsTorn);
    }

    [Fact]
    public void Read_NoSuchLog_IsSaid() =>
        Assert.Contains("file not found", Assert.Throws<FileRefusedException>(() => AppendLog.Read(At("none.log"))).Message, StringComparison.Ordinal);

    [Fact]
    public void Begin_TwoInOneSecond_HaveFilesOfTheirOwn()
    {
        var options = new AppendLogOptions { Clock = new StillClock(Evening) };
        using var one = AppendLog.Begin(Folder, "practice", options);
        using var two = AppendLog.Begin(Folder, "practice", options);

        one.Append("one");
        two.Append("two");

        Assert.Equal(["practice-20260314-201500-2.log", "practice-20260314-201500.log"], Names());
        Assert.Equal([one.Path, two.Path], AppendLog.All(Folder, "practice"));
        Assert.Equal(["one"], AppendLog.Read(one.Path).Records);
        Assert.Equal(["two"], AppendLog.Read(two.Path).Records);
    }

    [Fact]
    public void Begin_MoreThanTheMost_RemovesTheOldestThatNobodyWrites()
    {
        var clock = new StillClock(Evening);
        var options = new AppendLogOptions { Clock = clock, MostLogs = 3 };
        using var first = AppendLog.Begin(Folder, "practice", options);
        for (var log = 0; log < 4; log++)
        {
            clock.Now = clock.Now.AddMinutes(1);
            AppendLog.Begin(Folder, "practice", options).Dispose();
        }

        File.WriteAllText(At("practice-notes.log"), "not one of them");
        clock.Now = clock.Now.AddMinutes(1);
        using var last = AppendLog.Begin(Folder, "practice", options);

        Assert.Equal(
            [first.Path, At("practice-20260314-201800.log"), At("practice-20260314-201900.log"), last.Path], AppendLog.All(Folder, "practice"));
        Assert.True(File.Exists(At("practice-notes.log")));
    }

    [Fact]
    public void Begin_NameWithAStar_MeetsItsOwnLogsOnly()
    {
        NeedLinux();
        File.WriteAllText(At("a.log"), "not one of them");
        using var log = AppendLog.Begin(Folder, "a*b?[c]", new AppendLogOptions { MostLogs = 1 });

        Assert.Equal([log.Path], AppendLog.All(Folder, "a*b?[c]"));
        Assert.True(File.Exists(At("a.log")));
    }

    [Fact]
    public void Append_FullLog_SaysSoAndStaysReadable()
    {
        using var log = AppendLog.Begin(Folder, "practice", new AppendLogOptions { MostBytes = 10 });

        Assert.Null(log.Append("12345"));
        Assert.Equal(FileProblem.TooLarge, log.Append("67890")?.Problem);
        Assert.Equal(FileProblem.TooLarge, log.Trouble?.Problem);
        Assert.Null(log.Append("678"));

        Assert.Equal(["12345", "678"], AppendLog.Read(log.Path).Records);
    }

    [Fact]
    public void Append_FullDisk_KeepsWholeRecordsAndGoesOnWhenThereIsRoom()
    {
        var disk = Mount("16k");
        using var log = AppendLog.Begin(disk, "practice");
        Assert.Null(log.Append("first"));
        File.WriteAllBytes(Path.Combine(disk, "filler"), new byte[12_000]);

        var refusal = log.Append(new string('x', 9000));

        Assert.Equal(FileProblem.DiskFull, refusal?.Problem);
        Assert.Contains(log.Path, refusal!.Message, StringComparison.Ordinal);
        Assert.Equal(["first"], AppendLog.Read(log.Path).Records);
        File.Delete(Path.Combine(disk, "filler"));
        Assert.Null(log.Append("second"));
        var content = AppendLog.Read(log.Path);
        Assert.Equal(["first", "second"], content.Records);
        Assert.False(content.IsTorn);
    }

    [Fact]
    public void Begin_WhereNothingCanBeWritten_IsRefused()
    {
        File.WriteAllText(At("file"), "x");

        var refused = Assert.Throws<FileRefusedException>(() => AppendLog.Begin(At("file"), "practice"));

        Assert.Contains(At("file"), refused.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Sync_ByTheClock_HappensAtTheInterval()
    {
        var clock = new StillClock(Evening);
        using var log = AppendLog.Begin(Folder, "practice", new AppendLogOptions { Clock = clock, SyncInterval = TimeSpan.FromSeconds(3) });
        log.Append("one");
        Assert.True(log.HasUnsynced);

        Assert.Equal(TimeSpan.FromSeconds(3), clock.Period);
        clock.Ring();

        Assert.False(log.HasUnsynced);
        log.Append("two");
        Assert.True(log.HasUnsynced);
        Assert.Null(log.Sync());
        Assert.False(log.HasUnsynced);
    }

    [Fact]
    public void Append_FromManyThreads_KeepsEveryRecordWhole()
    {
        using var log = AppendLog.Begin(Folder, "practice");

        Parallel.For(0, 500, at => Assert.Null(log.Append($"record {at} {new string('x', at)}")));

        Assert.Equal(500, AppendLog.Read(log.Path).Records.Distinct().Count(record => record.StartsWith("record ", StringComparison.Ordinal)));
    }

    private sealed class StillClock(DateTimeOffset now) : TimeProvider
    {
        private TimerCallback? _callback;

        public DateTimeOffset Now { get; set; } = now;

        public TimeSpan Period { get; private set; }

        public void Ring() => _callback!(null);

        public override DateTimeOffset GetUtcNow() => Now;

        public override ITimer CreateTimer(TimerCallback callback, object? state, TimeSpan dueTime, TimeSpan period)
        {
            (_callback, Period) = (callback, period);
            return new NoTimer();
        }

        private sealed class NoTimer : ITimer
        {
            public bool Change(TimeSpan dueTime, TimeSpan period) => true;

            public void Dispose()
            {
                // Fires only on request.
            }

            public ValueTask DisposeAsync() => ValueTask.CompletedTask;
        }
    }
}
