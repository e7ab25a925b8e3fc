using CsCheck;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Performance;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Performance;

public sealed class PerformanceLogTests
{
    private static readonly LogHeader Header = new("Ferry Lanterns", "9f2c", 5);

    // All characters but surrogates, which a text has only in pairs.
    private static readonly Gen<string> Text = Gen.String[Gen.Char['\0', '\ud7ff'], 0, 20];

    private static readonly Gen<LogRecord> Records = Gen.OneOf<LogRecord>(
        Gen.Select(Gen.Int[-1, 999], Gen.Int[-1, 999], Gen.Int[1, 999], (a, b, c) => (LogRecord)new AskedRecord($"tempo by {a}", new PerformancePlace(a, b, c))),
        Gen.Select(Gen.Long[0, long.MaxValue], Gen.Enum<MixSettingKind>(), Gen.Double[-80, 12], Gen.Int[1, 16_384], (frame, kind, value, speed) =>
            (LogRecord)new ObeyedRecord(frame, new MixSetting(kind, 2, value, new Rational(speed, 97)))),
        Gen.Select(Text, Text, (name, text) => (LogRecord)new RecalledRecord(name, text)),
        Gen.Long[0, long.MaxValue].Select(frame => (LogRecord)new AgainRecord(frame)),
        Gen.Select(Gen.Long[0, 1_000_000_000], Gen.Int[0, 999], Gen.Int[-1, 999], (frame, a, b) => (LogRecord)new TakenRecord(frame, a, b, 3)));

    [Fact]
    public void Write_ThenRead_GivesEqualRecords() => Records.List[0, 40].Sample(records =>
    {
        var log = new PerformanceLog(Header);
        records.ForEach(log.Add);
        var read = PerformanceLog.Read(log.Write());

        Assert.Equal(Header, read.Header);
        Assert.Equal(records, read.Records);
        Assert.Equal(log.Asked, read.Asked);
        Assert.Equal(log.Write(), read.Write());
    });

    [Fact]
    public void Read_CutAnywhereBehindItsHead_GivesTheWholeLines() => Gen.Select(Records.List[1, 20], Gen.Double[0, 1]).Sample((records, at) =>
    {
        var log = new PerformanceLog(Header);
        var head = log.Write().Length;
        records.ForEach(log.Add);
        var text = log.Write();
        var cut = text[..(head + (int)((text.Length - head) * at))];

        Assert.Equal(records.Take(cut.Count(c => c == '\n') - 3), PerformanceLog.Read(cut).Records);
    });

    [Fact]
    public void Log_GivenAWriter_HandsOnEachLineAtOnce()
    {
        var lines = new List<string>();
        var log = new PerformanceLog(Header, lines.Add);
        log.Add(new AskedRecord("vamp", new PerformancePlace(1, 1, 2)));
        Assert.Equal("ask 1 1 2 vamp\n", lines[^1]);
        log.Add(new TakenRecord(48_000, 2, 2, 1));

        Assert.Equal(log.Write(), string.Concat(lines));
    }

    [Fact]
    public void Read_HeaderWithOptions_GivesEqualOptions()
    {
        var options = new StartOptions
        {
            HalfSteps = -14,
            Tempo = new TempoMark(TempoLevel.Note, new Span(new Rational(5, 16)), new Rational(100, 7)),
            Pace = new Rational(4, 5),
            Feel = FeltLevel.BarGroup,
            CountIn = false,
        };
        var log = new PerformanceLog(Header with { Options = options });
        log.Add(new AskedRecord("vamp", new PerformancePlace(1, 1, 2)));

        var read = PerformanceLog.Read(log.Write());

        Assert.Equal(options, read.Header.Options);
        Assert.Single(read.Records);
        Assert.Equal(log.Write(), read.Write());
    }

    [Fact]
    public void Read_LinesOfALaterKind_KeepsThem()
    {
        var text = new PerformanceLog(Header).Write() + "tap 48000 0.012\nask 0 0 1 hold\n";
        var log = PerformanceLog.Read(text);

        Assert.Equal(new OtherRecord("tap 48000 0.012"), log.Records[0]);
        Assert.Equal(text, log.Write());
    }

    [Theory]
    [InlineData("", "not a performance log")]
    [InlineData("ask 0 0 1 hold\n", "not a performance log")]
    [InlineData("performance-log 2\nchart x Song\nseed 1\n", "the log has format 2; this version reads format 1")]
    [InlineData("performance-log 1\nchart x Song\nseed 1\nask 0 zero 1 hold\nhold\n", "line 4 of the log is damaged: 'ask 0 zero 1 hold'")]
    [InlineData("performance-log 1\nchart x Song\nseed 1\noption tempo fast\n", "line 4 of the log is damaged: 'option tempo fast'")]
    [InlineData("performance-log 1\nchart x Song\nseed 1\nrecalled [\"a\"]\n", "line 4 of the log is damaged")]
    [InlineData("performance-log 1\nchart x Song\nseed 1\nrecalled [1,2]\n", "line 4 of the log is damaged")]
    [InlineData("performance-log 1\nchart x Song\nseed 1\nobey 5 Loudness 1 0 1\n", "line 4 of the log is damaged")]
    public void Read_AnotherText_SaysWhatIsWrong(string text, string says)
    {
        var wrong = Assert.Throws<FormatException>(() => PerformanceLog.Read(text));
        Assert.StartsWith(says, wrong.Message, StringComparison.Ordinal);
    }
}
