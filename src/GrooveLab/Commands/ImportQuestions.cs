using System.Globalization;
using GrooveLab.Exchange.Scores;
using GrooveLab.Exchange.SongTexts;
using GrooveLab.Inputs;
using GrooveLab.Music.Charts;

namespace GrooveLab.Commands;

/// <summary>Asks for the meter and the bars of words with chords, where neither the text nor an option says them. An empty answer takes the
/// default; so does the end of the input.</summary>
/// <param name="answers">Where the answers come from.</param>
/// <param name="to">Where the questions go.</param>
internal sealed class ImportQuestions(TextReader answers, TextWriter to)
{
    // After so many answers that are not accepted the default is taken.
    private const int MostTries = 5;
    private const int MostBars = 64;

    /// <summary>True if someone can read the questions and answer them.</summary>
    public static bool CanAsk => !Console.IsInputRedirected && !Console.IsErrorRedirected && TerminalOutput.IsDrawable;

    /// <summary>The options with the answers.</summary>
    /// <param name="text">The words with chords.</param>
    /// <param name="options">The options so far.</param>
    public ScoreOptions Ask(ReadOnlyMemory<byte> text, ScoreOptions options)
    {
        if (SongTextReader.LacksMeter(text, options))
        {
            options = options with { Meter = Answer("Meter, such as 7/8 2+2+3", SongTextReader.UsualMeter, ProblemOfMeter) };
        }

        if (SongTextReader.AssumedBarsInLine(text, options) is { } usual)
        {
            var bars = Answer("Bars for each line of words, such as 4", usual.ToString(CultureInfo.InvariantCulture), ProblemOfBars);
            options = options with { BarsInLine = int.Parse(bars, CultureInfo.InvariantCulture) };
        }

        return options;
    }

    private string Answer(string question, string usual, Func<string, string?> problemOf)
    {
        for (var tries = 0; tries < MostTries; tries++)
        {
            to.Write($"{question} [{usual}]: ");
            to.Flush();
            if (answers.ReadLine()?.Trim() is not { Length: > 0 } answer)
            {
                return usual;
            }

            if (problemOf(answer) is not { } problem)
            {
                return answer;
            }

            to.WriteLine(problem);
        }

        to.WriteLine($"taking {usual}");
        return usual;
    }

    private static string? ProblemOfMeter(string answer) =>
        MeterMark.Read(answer, null, "write a meter such as 7/8 2+2+3", out var problem) is not null ? null : $"{problem!.Value.What}; {problem.Value.Accepted}";

    private static string? ProblemOfBars(string answer) =>
        int.TryParse(answer, NumberStyles.None, CultureInfo.InvariantCulture, out var bars) && bars is >= 1 and <= MostBars ? null
            : $"write a number from 1 to {MostBars}";
}
