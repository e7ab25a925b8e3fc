using System.Globalization;
using System.Text.Encodings.Web;
using System.Text.Json;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Performance;

/// <summary>Identifies the chart and random seed of a log; only with these can it be replayed.</summary>
/// <param name="Chart">The chart's title.</param>
/// <param name="Fingerprint">Identifies the chart's text, such as a hash; one word without spaces.</param>
/// <param name="Seed">The random seed.</param>
public sealed record LogHeader(string Chart, string Fingerprint, ulong Seed)
{
    /// <summary>The options with which the performance started, apart from the random seed. A log of an earlier version has none.</summary>
    public StartOptions Options { get; init; } = StartOptions.None;
}

/// <summary>A record of the log, one line.</summary>
public abstract record LogRecord;

/// <summary>A change requested at a place.</summary>
/// <param name="Words">The change in words.</param>
/// <param name="Place">The place.</param>
public sealed record AskedRecord(string Words, PerformancePlace Place) : LogRecord;

/// <summary>A setting of mix or speed that took effect on a frame.</summary>
/// <param name="Frame">The sample frame.</param>
/// <param name="Setting">The setting.</param>
public sealed record ObeyedRecord(long Frame, MixSetting Setting) : LogRecord;

/// <summary>A switch to other bars: the frame, the bar of the performance, the first bar in the form, and the number of changes requested
/// so far.</summary>
/// <param name="Frame">The sample frame.</param>
/// <param name="Ordinal">The bar of the performance.</param>
/// <param name="From">The bar's number in the form.</param>
/// <param name="Asked">Number of changes requested so far.</param>
public sealed record TakenRecord(long Frame, int Ordinal, int From, int Asked) : LogRecord;

/// <summary>The text of a chart from an earlier performance (a saved version, or unsaved changes); the change that recalls it follows. The text
/// is in the log because its file may be deleted.</summary>
/// <param name="Name">The name by which it is recalled.</param>
/// <param name="Text">The chart's text.</param>
public sealed record RecalledRecord(string Name, string Text) : LogRecord;

/// <summary>The performance ended or was stopped, and the same state is played again. The frames and bars of later records count from
/// there.</summary>
/// <param name="Frame">The frame at which the earlier performance was left.</param>
/// <param name="Start">Where it starts; null for the top, as in logs of earlier versions.</param>
public sealed record AgainRecord(long Frame, StartPoint? Start = null) : LogRecord;

/// <summary>A line of an unknown kind: kept unchanged and not replayed.</summary>
/// <param name="Line">The line.</param>
public sealed record OtherRecord(string Line) : LogRecord;

/// <summary>The kinds of settings of mix and speed.</summary>
public enum MixSettingKind
{
    /// <summary>A part's level, in dB.</summary>
    PartLevel,

    /// <summary>A part's pan, -100 (left) to 100 (right).</summary>
    PartPan,

    /// <summary>Whether a part is muted: 1 or 0.</summary>
    PartMute,

    /// <summary>The overall level, in dB.</summary>
    MasterLevel,

    /// <summary>The speed, 1 is as written.</summary>
    Speed,

    /// <summary>The end, with a fade in seconds.</summary>
    Stop,
}

/// <summary>A setting of mix or speed, which takes effect at once without new bars.</summary>
/// <param name="Kind">What it changes.</param>
/// <param name="Part">The index of the part in the current band, for settings of a part; otherwise 0.</param>
/// <param name="Value">The value, in the unit of its kind; 0 for a speed.</param>
/// <param name="Ratio">The speed; otherwise 0.</param>
public readonly record struct MixSetting(MixSettingKind Kind, int Part, double Value, Rational Ratio);

/// <summary>All that made a performance beyond its chart: replaying it gives the same samples. Text, one record per line; an incomplete
/// last line, as after a crash, is dropped when reading.</summary>
/// <remarks>Written by one thread. Lines of unknown kinds are kept, so that later versions can add kinds.</remarks>
public sealed class PerformanceLog
{
    /// <summary>The version of the format.</summary>
    public const int Format = 1;

    private const string FirstWord = "performance-log";
    private const string Option = "option ";

    private static readonly JsonWriterOptions Readable = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    private readonly List<LogRecord> _records = [];
    private readonly Action<string>? _written;

    /// <summary>Starts a log.</summary>
    /// <param name="header">Its chart and random seed.</param>
    /// <param name="written">Receives each line with its line break as soon as it is written, the header first; null for none.</param>
    public PerformanceLog(LogHeader header, Action<string>? written = null)
    {
        Header = header;
        _written = written;
        written?.Invoke(Head);
    }

    /// <summary>Its chart and random seed.</summary>
    public LogHeader Header { get; }

    /// <summary>The records, in order.</summary>
    public IReadOnlyList<LogRecord> Records => _records;

    /// <summary>Number of changes requested.</summary>
    public int Asked { get; private set; }

    private string Head => string.Create(
        CultureInfo.InvariantCulture,
        $"{FirstWord} {Format}\nchart {Header.Fingerprint} {OneLine(Header.Chart)}\nseed {Header.Seed}\n")
        + string.Concat(Header.Options.Words.Select(words => Option + words + "\n"));

    /// <summary>The state in which the performance started.</summary>
    /// <param name="chart">The chart as it was in its file.</param>
    /// <param name="instruments">The instruments of the performance.</param>
    /// <exception cref="ChartProblemException">It cannot be played.</exception>
    public PerformanceState Opening(Chart chart, InstrumentCatalogue instruments) =>
        (Header.Options with { Seed = Header.Seed }).Opening(chart, instruments);

    /// <summary>Adds a record.</summary>
    public void Add(LogRecord record)
    {
        _records.Add(record);
        Asked += record is AskedRecord ? 1 : 0;
        _written?.Invoke(Text(record) + "\n");
    }

    /// <summary>The log as text.</summary>
    public string Write() => Head + string.Concat(_records.Select(record => Text(record) + "\n"));

    /// <summary>Reads a text that <see cref="Write"/> wrote, whole or cut short.</summary>
    /// <exception cref="FormatException">The text is not a log, has a later format, or is damaged before its last line; the message names
    /// the line.</exception>
    public static PerformanceLog Read(string text)
    {
        var lines = text.Split('\n');
        var head = lines.Take(3).Select(line => line.TrimEnd('\r').Split(' ', 3)).ToList();
        if (head.Count < 3 || lines.Length < 4 || head[0] is not [FirstWord, var version] || head[1] is not ["chart", var fingerprint, var chart]
            || head[2] is not ["seed", var number] || !ulong.TryParse(number, NumberStyles.None, CultureInfo.InvariantCulture, out var seed))
        {
            throw new FormatException($"not a performance log; the first line must be '{FirstWord} {Format}'");
        }

        if (version != Format.ToString(CultureInfo.InvariantCulture))
        {
            throw new FormatException($"the log has format {version}; this version reads format {Format}");
        }

        // Text after the last line break is an unfinished line.
        var begin = head.Count;
        var options = StartOptions.None;
        for (; begin < lines.Length - 1 && lines[begin].StartsWith(Option, StringComparison.Ordinal); begin++)
        {
            options = OptionIn(options, lines[begin].TrimEnd('\r'), begin + 1);
        }

        var log = new PerformanceLog(new LogHeader(chart, fingerprint, seed) { Options = options });
        for (var i = begin; i < lines.Length - 1; i++)
        {
            var line = lines[i].TrimEnd('\r');
            if (line.Length > 0)
            {
                log.Add(Record(line, i + 1));
            }
        }

        return log;
    }

    private static StartOptions OptionIn(StartOptions options, string line, int number)
    {
        try
        {
            return options.With(line[Option.Length..]);
        }
        catch (Exception wrong) when (wrong is FormatException or OverflowException)
        {
            throw Damaged(line, number, wrong);
        }
    }

    private static FormatException Damaged(string line, int number, Exception wrong) =>
        new($"line {number} of the log is damaged: '{line}'", wrong);

    // Two strings of JSON, because these escape line breaks and remain readable.
    private static string Strings(string first, string second)
    {
        using var bytes = new MemoryStream();
        using (var writer = new Utf8JsonWriter(bytes, Readable))
        {
            writer.WriteStartArray();
            writer.WriteStringValue(first);
            writer.WriteStringValue(second);
            writer.WriteEndArray();
        }

        return System.Text.Encoding.UTF8.GetString(bytes.ToArray());
    }

    private static RecalledRecord Recalled(string strings)
    {
        using var read = JsonDocument.Parse(strings);
        return read.RootElement.GetArrayLength() == 2 && read.RootElement[0].GetString() is { } name && read.RootElement[1].GetString() is { } text
            ? new RecalledRecord(name, text)
            : throw new FormatException("two strings were expected");
    }

    private static string OneLine(string text) => string.Concat(text.Select(c => char.IsControl(c) ? ' ' : c));

    private static string Text(LogRecord record) => record switch
    {
        AskedRecord asked => string.Create(
            CultureInfo.InvariantCulture, $"ask {asked.Place.Ordinal} {asked.Place.Index} {asked.Place.Next} {OneLine(asked.Words)}"),
        ObeyedRecord obeyed => string.Create(
            CultureInfo.InvariantCulture,
            $"obey {obeyed.Frame} {obeyed.Setting.Kind} {obeyed.Setting.Part} {obeyed.Setting.Value:R} {obeyed.Setting.Ratio}"),
        TakenRecord taken => string.Create(CultureInfo.InvariantCulture, $"take {taken.Frame} {taken.Ordinal} {taken.From} {taken.Asked}"),
        RecalledRecord recalled => "recalled " + Strings(recalled.Name, recalled.Text),
        AgainRecord { Start: { } start } again => string.Create(
            CultureInfo.InvariantCulture,
            $"again {again.Frame} {start.Bar} {start.Pass} {(start.CountIn ? "count-in" : "no-count-in")} {(start.KeepsOrders ? "orders" : "no-orders")}{(start.Ordinal is { } at ? $" {at}" : string.Empty)}"),
        AgainRecord again => string.Create(CultureInfo.InvariantCulture, $"again {again.Frame}"),
        OtherRecord other => other.Line,
        _ => throw new InvalidOperationException("Unknown kind of record."),
    };

    private static LogRecord Record(string text, int number)
    {
        var words = text.Split(' ');
        int Whole(int at) => int.Parse(words[at], CultureInfo.InvariantCulture);
        long Frame() => long.Parse(words[1], CultureInfo.InvariantCulture);
        try
        {
            return words[0] switch
            {
                "ask" => new AskedRecord(string.Join(' ', words[4..]), new PerformancePlace(Whole(1), Whole(2), Whole(3))),
                "obey" => new ObeyedRecord(
                    Frame(),
                    new MixSetting(
                        Enum.Parse<MixSettingKind>(words[2]),
                        Whole(3),
                        double.Parse(words[4], CultureInfo.InvariantCulture),
                        Rational.TryParse(words[5], out var ratio) ? ratio : throw new FormatException("the speed is not a fraction"))),
                "take" => new TakenRecord(Frame(), Whole(2), Whole(3), Whole(4)),
                "recalled" => Recalled(text["recalled ".Length..]),
                "again" when words.Length > 2 => new AgainRecord(
                    Frame(), new StartPoint(Whole(2), Whole(3), words[4] == "count-in", words[5] == "orders") { Ordinal = words.Length > 6 ? Whole(6) : null }),
                "again" => new AgainRecord(Frame()),
                _ => new OtherRecord(text),
            };
        }
        catch (Exception wrong) when (wrong is IndexOutOfRangeException or ArgumentException or OverflowException or FormatException
            or JsonException or InvalidOperationException)
        {
            throw Damaged(text, number, wrong);
        }
    }
}
