using System.Collections.Concurrent;
using System.Diagnostics;

namespace GrooveLab.Files.Attack;

/// <summary>A process of this program that runs a <see cref="Child"/>.</summary>
internal sealed class Saver : IDisposable
{
    private readonly Process _process;
    private readonly BlockingCollection<string> _lines = [];

    /// <summary>Starts it; a saver waits for <see cref="Go"/>.</summary>
    public Saver(params string[] arguments)
    {
        var start = new ProcessStartInfo(Environment.ProcessPath!) { UseShellExecute = false, RedirectStandardInput = true, RedirectStandardOutput = true };
        if (Path.GetFileNameWithoutExtension(Environment.ProcessPath) == "dotnet")
        {
            start.ArgumentList.Add(typeof(Saver).Assembly.Location);
        }

        foreach (var argument in arguments)
        {
            start.ArgumentList.Add(argument);
        }

        _process = Process.Start(start)!;
        var reader = new Thread(Read) { IsBackground = true };
        reader.Start();
    }

    /// <summary>All lines so far.</summary>
    public List<string> Said { get; } = [];

    /// <summary>Starts the work.</summary>
    public void Go()
    {
        _process.StandardInput.WriteLine();
        _process.StandardInput.Flush();
    }

    /// <summary>Waits for its next line; null if it has ended.</summary>
    public string? Next()
    {
        if (!_lines.TryTake(out var line, TimeSpan.FromSeconds(30)))
        {
            return _process.HasExited || _lines.IsAddingCompleted ? null : throw new TimeoutException("The child has printed nothing for 30 s.");
        }

        Said.Add(line);
        return line;
    }

    /// <summary>Reads all its lines until it ends.</summary>
    public void ToEnd()
    {
        while (Next() is not null)
        {
        }

        _process.WaitForExit();
    }

    /// <summary>Kills it (kill -9), which it cannot handle.</summary>
    public void Kill()
    {
        _process.Kill();
        _process.WaitForExit();
    }

    /// <summary>Sends a signal and waits for the end.</summary>
    public void Signal(string name)
    {
        using var kill = Process.Start("kill", ["-s", name, _process.Id.ToString(System.Globalization.CultureInfo.InvariantCulture)]);
        kill.WaitForExit();
        _process.WaitForExit();
    }

    public void Dispose()
    {
        if (!_process.HasExited)
        {
            Kill();
        }

        _process.Dispose();
        _lines.Dispose();
    }

    private void Read()
    {
        try
        {
            while (_process.StandardOutput.ReadLine() is { } line)
            {
                _lines.Add(line);
            }

            _lines.CompleteAdding();
        }
        catch (Exception failure) when (failure is IOException or ObjectDisposedException or InvalidOperationException)
        {
            // It ended during the read.
        }
    }
}
