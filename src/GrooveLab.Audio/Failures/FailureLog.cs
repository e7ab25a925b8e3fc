namespace GrooveLab.Audio.Failures;

/// <summary>
/// Where failures go that are caught and survived, so that none is without a trace: each kind once, with its first message and place, and
/// a count. It keeps a bounded number of them and no exception object, so that it does not grow however often something fails.
/// </summary>
/// <remarks>Any thread but the audio thread may call any member; none throws.</remarks>
public sealed class FailureLog
{
    private const int MostKinds = 32;
    private const int LongestMessage = 300;
    private const int LongestDetails = 4000;

    private readonly Lock _gate = new();
    private readonly List<CaughtFailure> _failures = [];
    private IReadOnlyList<CaughtFailure> _all = [];
    private long _total;

    /// <summary>The failures, each kind once, in the order in which they first came.</summary>
    public IReadOnlyList<CaughtFailure> All => Volatile.Read(ref _all);

    /// <summary>How many failures there were in all; it never falls, so a change of it says that there is something new.</summary>
    public long Total => Interlocked.Read(ref _total);

    /// <summary>Records an exception that was caught.</summary>
    /// <param name="doing">What was being done, as a heading: "composing a bar".</param>
    /// <param name="failure">What was thrown.</param>
    /// <param name="times">How often, 1 or more.</param>
    public void Add(string doing, Exception failure, long times = 1)
    {
        var (message, details) = Texts(failure);
        Add(new CaughtFailure(doing, failure.GetType().Name, message, PlaceIn(details), details, times));
    }

    /// <summary>Records something that went wrong without an exception.</summary>
    /// <param name="doing">What was being done, as a heading.</param>
    /// <param name="message">What went wrong.</param>
    public void Add(string doing, string message) =>
        Add(new CaughtFailure(doing, string.Empty, OneLine(message), string.Empty, message, 1));

    private void Add(CaughtFailure failure)
    {
        lock (_gate)
        {
            // The same place fails with other numbers in its message; without a place the message tells failures apart.
            var at = _failures.FindIndex(other => other.Doing == failure.Doing && other.Kind == failure.Kind && other.Place == failure.Place
                && (failure.Place.Length > 0 || other.Message == failure.Message));
            if (at < 0 && _failures.Count == MostKinds)
            {
                // The last one stands for all that there is no room for.
                at = MostKinds - 1;
            }

            if (at < 0)
            {
                _failures.Add(failure);
            }
            else
            {
                _failures[at] = _failures[at] with { Count = _failures[at].Count + failure.Count };
            }

            Volatile.Write(ref _all, [.. _failures]);
            Interlocked.Add(ref _total, failure.Count);
        }
    }

    /// <summary>What an exception says, on one line; its type where it fails to say anything.</summary>
    public static string MessageOf(Exception failure) => Texts(failure).Message;

    private static (string Message, string Details) Texts(Exception failure)
    {
        var kind = failure.GetType().Name;
        try
        {
            var details = failure.ToString();
            var message = OneLine(failure.Message);
            return (message.Length > 0 ? message : kind, details.Length > LongestDetails ? details[..LongestDetails] : details);
        }
#pragma warning disable CA1031 // An exception of somebody else's may fail to describe itself; its type must do then.
        catch (Exception)
#pragma warning restore CA1031
        {
            return (kind, kind);
        }
    }

    // The first line of the stack: "   at GrooveLab.Music.Ensemble.BassWriter.Write(Bar bar) in ...".
    private static string PlaceIn(string details)
    {
        const string at = "   at ";
        foreach (var line in details.AsSpan().EnumerateLines())
        {
            if (line.StartsWith(at, StringComparison.Ordinal))
            {
                var rest = line[at.Length..];
                var end = rest.IndexOf('(');
                return (end < 0 ? rest : rest[..end]).ToString();
            }
        }

        return string.Empty;
    }

    private static string OneLine(string text)
    {
        var line = string.Concat(text.Select(letter => char.IsControl(letter) ? ' ' : letter)).Trim();
        return line.Length > LongestMessage ? line[..LongestMessage] : line;
    }
}
