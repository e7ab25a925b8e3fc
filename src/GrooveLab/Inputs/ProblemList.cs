namespace GrooveLab.Inputs;

/// <summary>Collects the problems of a command, so that all are told at once.</summary>
internal sealed class ProblemList
{
    private readonly List<string> _problems = [];
    private CommandFailure? _first;

    /// <summary>True if there is no problem yet.</summary>
    public bool IsEmpty => _problems.Count == 0;

    /// <summary>Adds problems in words; null is none.</summary>
    /// <param name="problems">The problems.</param>
    public void Add(params IEnumerable<string?> problems) => _problems.AddRange(problems.OfType<string>());

    /// <summary>The result of a step, or null and its problem here.</summary>
    /// <param name="step">The step.</param>
    public T? Try<T>(Func<T> step)
        where T : class
    {
        try
        {
            return step();
        }
        catch (CommandFailure failure)
        {
            _first ??= failure;
            _problems.Add(failure.Message);
            return null;
        }
    }

    /// <summary>Takes a step; its problem is kept.</summary>
    /// <param name="step">The step.</param>
    public void Try(Action step) => Try<object>(() =>
    {
        step();
        return this;
    });

    /// <summary>Ends the command with the problems if there are any.</summary>
    /// <exception cref="CommandFailure">There are; the message has one on each line.</exception>
    public void NeedNone()
    {
        var all = _problems.Distinct(StringComparer.Ordinal).ToList();
        if (all.Count > 0)
        {
            throw all.Count > 1
                ? CommandFailure.BadInput(string.Join(Environment.NewLine, all.Prepend($"{all.Count} problems:")))
                : _first ?? CommandFailure.BadInput(all[0]);
        }
    }
}
