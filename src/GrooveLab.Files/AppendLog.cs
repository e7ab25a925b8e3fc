using System.Globalization;
using System.Text;

namespace GrooveLab.Files;

/// <summary>The settings of a log.</summary>
public sealed record AppendLogOptions
{
    /// <summary>
    /// The interval for forcing records to the disk. Until then only a power failure can lose them. More than 0. Default: 2 s.
    /// </summary>
    public TimeSpan SyncInterval { get; init; } = TimeSpan.FromSeconds(2);

    /// <summary>The largest size of a log in bytes. Default: 16 MiB.</summary>
    public long MostBytes { get; init; } = 16 << 20;

    /// <summary>How many logs of one name stay in the folder, including the new one; older ones are deleted. Default: 50.</summary>
    public int MostLogs { get; init; } = 50;

    /// <summary>The clock. Default: the system's.</summary>
    public TimeProvider Clock { get; init; } = TimeProvider.System;
}

/// <summary>
/// A file to which records are appended, one a line. Each has reached the system when <see cref="Append"/> returns, so the end of the
/// program loses none. Written records never change. Every log is a separate file: programs that run at the same time do not share one.
/// From any thread.
/// </summary>
public sealed class AppendLog : IDisposable
{
    private const string Suffix = ".log";
    private const int Attempts = 1000;

    private readonly FileStream _file;
    private readonly AppendLogOptions _options;
    private readonly ITimer _timer;
    private readonly Lock _gate = new();
    private long _length;
    private bool _dirty;
    private bool _closed;

    private AppendLog(string path, FileStream file, AppendLogOptions options)
    {
        Path = path;
        _file = file;
        _options = options;
        _timer = options.Clock.CreateTimer(_ => SyncQuietly(), null, options.SyncInterval, options.SyncInterval);
    }

    /// <summary>
    /// The log's file: <c>NAME-20260314-201500.log</c> after its start in UTC; <c>-2</c> and so on if several start in one second.
    /// </summary>
    public string Path { get; }

    /// <summary>Why the last record was not written; null if it was.</summary>
    public FileRefusal? Trouble { get; private set; }

    /// <summary>True if records have not yet been forced to the disk.</summary>
    internal bool HasUnsynced
    {
        get
        {
            lock (_gate)
            {
                return _dirty;
            }
        }
    }

    /// <summary>Starts a log.</summary>
    /// <param name="folder">Its folder; created if missing.</param>
    /// <param name="name">The start of the file's name, without a dot.</param>
    /// <param name="options">The settings; null for the defaults.</param>
    /// <exception cref="FileRefusedException">It cannot be written there.</exception>
    public static AppendLog Begin(string folder, string name, AppendLogOptions? options = null)
    {
        options ??= new AppendLogOptions();
        var wanted = System.IO.Path.Combine(folder, name + Suffix);
        try
        {
            Directory.CreateDirectory(folder);
            var time = options.Clock.GetUtcNow().ToString("yyyyMMdd-HHmmss", CultureInfo.InvariantCulture);
            for (var number = 1; ; number++)
            {
                var path = System.IO.Path.Combine(folder, $"{name}-{time}{(number == 1 ? string.Empty : $"-{number}")}{Suffix}");
                try
                {
                    // Locked, so that another program does not delete it as an old log.
                    var file = new FileStream(path, FileMode.CreateNew, FileAccess.Write, FileShare.Read, bufferSize: 0);
                    RemoveOldest(folder, name, path, options.MostLogs);
                    return new AppendLog(path, file, options);
                }
                catch (IOException) when (number < Attempts && File.Exists(path))
                {
                    // Started by another program in the same second.
                }
            }
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure))
        {
            throw FileErrors.Of(failure, wanted);
        }
    }

    /// <summary>The logs of a name, newest last.</summary>
    public static IReadOnlyList<string> All(string folder, string name)
    {
        try
        {
            return
            [
                .. Directory.EnumerateFiles(folder, "*" + Suffix)
                    .Where(path => System.IO.Path.GetFileName(path).StartsWith(name + "-", StringComparison.Ordinal))
                    .Select(path => (Path: path, Order: Order(path, name)))
                    .Where(log => log.Order is not null)
                    .OrderBy(log => log.Order!.Value.Time, StringComparer.Ordinal).ThenBy(log => log.Order!.Value.Number)
                    .Select(log => log.Path),
            ];
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure))
        {
            return [];
        }
    }

    /// <summary>Appends a record.</summary>
    /// <param name="record">One line, without its line end.</param>
    /// <returns>Null if it was written; otherwise the reason, and nothing of it is in the file. The next record is tried again.</returns>
    /// <exception cref="ArgumentException">The record contains a line end.</exception>
    public FileRefusal? Append(string record)
    {
        if (record.AsSpan().ContainsAny('\n', '\r'))
        {
            throw new ArgumentException("A record must be one line.", nameof(record));
        }

        var line = Encoding.UTF8.GetBytes(record + "\n");
        lock (_gate)
        {
            ObjectDisposedException.ThrowIf(_closed, this);
            if (_length + line.Length > _options.MostBytes)
            {
                return Trouble = new FileRefusal(FileProblem.TooLarge, Path, $"{Path}: the log is full; further records are not written");
            }

            try
            {
                // One call for the whole line: it is written completely, or the disk is full.
                _file.Write(line);
                _length += line.Length;
                _dirty = true;
                return Trouble = null;
            }
            catch (Exception failure) when (FileErrors.IsOfFiles(failure))
            {
                TakeBack();
                return Trouble = FileErrors.Of(failure, Path).Refusal;
            }
        }
    }

    /// <summary>Forces all records to the disk.</summary>
    /// <returns>Null on success, otherwise the reason.</returns>
    public FileRefusal? Sync()
    {
        lock (_gate)
        {
            if (!_dirty || _closed)
            {
                return null;
            }

            try
            {
                _file.Flush(flushToDisk: true);
                _dirty = false;
                return null;
            }
            catch (Exception failure) when (FileErrors.IsOfFiles(failure))
            {
                return Trouble = FileErrors.Of(failure, Path).Refusal;
            }
        }
    }

    /// <summary>Forces all records to the disk and closes the log.</summary>
    public void Dispose()
    {
        _timer.Dispose();
        Sync();
        lock (_gate)
        {
            _closed = true;
            _file.Dispose();
        }
    }

    /// <summary>Reads a log, even one that is being written.</summary>
    /// <param name="path">Its file.</param>
    /// <param name="mostBytes">How much of a longer log is read.</param>
    /// <exception cref="FileRefusedException">It cannot be read.</exception>
    public static LogContent Read(string path, long mostBytes = 64 << 20)
    {
        try
        {
            using var file = new FileStream(path, FileMode.Open, FileAccess.Read, FileShare.ReadWrite | FileShare.Delete);
            var bytes = new byte[(int)Math.Min(Math.Min(file.Length, mostBytes), Array.MaxLength)];
            var length = file.ReadAtLeast(bytes, bytes.Length, throwOnEndOfStream: false);
            return LogContent.Of(bytes.AsSpan(0, length));
        }
        catch (FileNotFoundException)
        {
            throw new FileRefusedException(new FileRefusal(FileProblem.Other, path, $"{path}: file not found"));
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure))
        {
            throw FileErrors.Of(failure, path);
        }
    }

    private void SyncQuietly() => _ = Sync();

    // A full disk may take a part of a line; it is removed, so that the next record starts a line.
    private void TakeBack()
    {
        try
        {
            _file.SetLength(_length);
            _file.Position = _length;
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure))
        {
            // A reader then finds an invalid line and leaves it out.
        }
    }

    private static void RemoveOldest(string folder, string name, string own, int mostLogs)
    {
        foreach (var path in All(folder, name).Where(path => path != own).SkipLast(Math.Max(0, mostLogs - 1)))
        {
            try
            {
                // Fails for a log that a program is still writing.
                new FileStream(path, FileMode.Open, FileAccess.ReadWrite, FileShare.None, bufferSize: 1, FileOptions.DeleteOnClose).Dispose();
            }
            catch (Exception failure) when (FileErrors.IsOfFiles(failure))
            {
                continue;
            }
        }
    }

    private static (string Time, int Number)? Order(string path, string name)
    {
        var parts = System.IO.Path.GetFileNameWithoutExtension(path)[(name.Length + 1)..].Split('-');
        var number = 1;
        return parts.Length is 2 or 3 && parts[0].Length == 8 && parts[1].Length == 6 && parts[..2].All(part => part.All(char.IsAsciiDigit))
            && (parts.Length == 2 || int.TryParse(parts[2], NumberStyles.None, CultureInfo.InvariantCulture, out number))
            ? (parts[0] + parts[1], number)
            : null;
    }
}

/// <summary>The records read from a log.</summary>
/// <param name="Records">The whole records, in order.</param>
/// <param name="IsTorn">True if the last line was incomplete and left out: the program or the machine ended while writing it.</param>
/// <param name="Damaged">The number of whole lines left out because they are not UTF-8 or contain zeros, as after a power failure.</param>
public sealed record LogContent(IReadOnlyList<string> Records, bool IsTorn, int Damaged)
{
    private static readonly UTF8Encoding Strict = new(encoderShouldEmitUTF8Identifier: false, throwOnInvalidBytes: true);

    /// <summary>Parses the bytes of a log.</summary>
    internal static LogContent Of(ReadOnlySpan<byte> bytes)
    {
        var records = new List<string>();
        var damaged = 0;
        while (bytes.IndexOf((byte)'\n') is var end and >= 0)
        {
            try
            {
                var line = bytes[..end];
                if (line.Contains((byte)0))
                {
                    damaged++;
                }
                else
                {
                    records.Add(Strict.GetString(line));
                }
            }
            catch (DecoderFallbackException)
            {
                damaged++;
            }

            bytes = bytes[(end + 1)..];
        }

        return new LogContent(records, !bytes.IsEmpty, damaged);
    }
}
